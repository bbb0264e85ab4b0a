"""Doors read a request, make one call and show the answer: no way through one writes twice.

Held of every function of `recycling/web` and `api`: along each way through it, helpers of the doors
included, at most one service is named; a service in a loop counts as two. Not held: how many
queries a page reads, for pages show several things; services that reach a helper as an argument
count where they are named. That doors touch no models is an import contract.
"""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SERVICES = "recycling.services"
DOORS = ("recycling.web", "api")
AROUND = {"once", "rehearse"}
"""Services that are given the call and make it, for good or to try it: the call is the write."""

Named = dict[str, tuple[str, str]]
Function = ast.FunctionDef | ast.AsyncFunctionDef


class Door:
    """A module of doors: its functions, and what it names from elsewhere."""

    def __init__(self, source: str) -> None:
        tree = ast.parse(source)
        self.named: Named = {}
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.module and not node.level:
                for one in node.names:
                    self.named[one.asname or one.name] = (node.module, one.name)
        self.functions: dict[str, Function] = {}
        for node in tree.body:
            if isinstance(node, Function):
                self.functions[node.name] = node
            elif isinstance(node, ast.ClassDef):
                methods = [one for one in node.body if isinstance(one, Function)]
                self.functions |= {f"{node.name}.{one.name}": one for one in methods}

    def writes(self, name: str, inside: frozenset[str] = frozenset()) -> int:
        """Count the services named along the way through a function that names most."""
        function = self.functions[name]
        own = {one.arg for one in ast.walk(function.args) if isinstance(one, ast.arg)}
        names = [one for one in ast.walk(function) if isinstance(one, ast.Name)]
        own |= {one.id for one in names if isinstance(one.ctx, ast.Store)}
        return self._block(function.body, inside | own | {name})

    def _block(self, body: list[ast.stmt], inside: frozenset[str]) -> int:
        if not body:
            return 0
        first, rest = body[0], body[1:]
        if isinstance(first, ast.If):
            ways = [
                self._block(way if _ends(way) else [*way, *rest], inside)
                for way in (first.body, first.orelse)
            ]
            return self._count(first.test, inside) + max(ways)
        return self._statement(first, inside) + self._block(rest, inside)

    def _statement(self, node: ast.stmt, inside: frozenset[str]) -> int:
        if isinstance(node, ast.Try):
            handled = [self._block(one.body, inside) for one in node.handlers]
            ways = max([*handled, self._block(node.orelse, inside)], default=0)
            return self._block(node.body, inside) + ways + self._block(node.finalbody, inside)
        if isinstance(node, ast.For | ast.While):
            head = node.iter if isinstance(node, ast.For) else node.test
            again = self._block(node.body, inside) + self._block(node.orelse, inside)
            return self._count(head, inside) + 2 * again
        if isinstance(node, ast.With):
            heads = sum(self._count(one.context_expr, inside) for one in node.items)
            return heads + self._block(node.body, inside)
        if isinstance(node, Function):
            return self._block(node.body, inside)
        return self._count(node, inside)

    def _count(self, node: ast.AST, inside: frozenset[str]) -> int:
        if isinstance(node, ast.IfExp):
            ways = [self._count(one, inside) for one in (node.body, node.orelse)]
            return self._count(node.test, inside) + max(ways)
        if isinstance(node, ast.Dict):
            return max((self._count(one, inside) for one in node.values), default=0)
        if isinstance(node, ast.GeneratorExp | ast.ListComp | ast.SetComp | ast.DictComp):
            once = self._count(node.generators[0].iter, inside)
            return 2 * self._inner(node, inside) - once
        if isinstance(node, ast.Attribute):
            whole = _dotted(node)
            if whole and whole[0] in self.named:
                module, name = self.named[whole[0]]
                return _of_service(f"{module}.{name}", whole[1])
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            return self._name(node.id, inside)
        return self._inner(node, inside)

    def _inner(self, node: ast.AST, inside: frozenset[str]) -> int:
        return sum(self._count(one, inside) for one in ast.iter_child_nodes(node))

    def _name(self, name: str, inside: frozenset[str]) -> int:
        if name in inside:
            return 0
        if name in self.functions:
            return self.writes(name, inside)
        module, there = self.named.get(name, ("", ""))
        if module.startswith(DOORS):
            helper = door(module)
            return helper.writes(there) if helper and there in helper.functions else 0
        return _of_service(module, there)


def _of_service(module: str, name: str) -> int:
    return int(module.startswith(SERVICES) and name.islower() and name not in AROUND)


def _ends(body: list[ast.stmt]) -> bool:
    return bool(body) and isinstance(body[-1], ast.Return | ast.Raise)


def _dotted(node: ast.Attribute) -> tuple[str, str] | None:
    return (node.value.id, node.attr) if isinstance(node.value, ast.Name) else None


@cache
def door(module: str) -> Door | None:
    path = ROOT / f"{module.replace('.', '/')}.py"
    return Door(path.read_text()) if path.exists() else None


def doors() -> list[str]:
    found = [*(ROOT / "recycling" / "web").rglob("*.py"), *(ROOT / "api").rglob("*.py")]
    return sorted(str(one.relative_to(ROOT).with_suffix("")).replace("/", ".") for one in found)


@pytest.mark.parametrize("module", doors())
def test_no_way_through_a_door_writes_twice(module):
    here = door(module)
    assert here is not None
    often = {name: count for name in here.functions if (count := here.writes(name)) > 1}
    assert not often


SEEN = """
from recycling.services.lots import lots_count as counting
from recycling.services.lots.holds import hold_place, hold_release
from recycling.services.once import once


def either(asked):
    if asked:
        return hold_place(asked)
    return hold_release(asked)


def chosen(asked):
    deeds = {"place": hold_place, "release": lambda: hold_release(asked)}
    return once(deeds[asked])


def both(asked):
    if asked:
        hold_place(asked)
    return hold_release(asked)


def several(asked):
    for one in asked:
        counting.lots_count(one)


def listed(asked, either):
    return [either(one) for one in hold_place(asked)]


def through_a_helper(asked):
    hold_place(asked)
    return either(asked)
"""


def test_ways_are_told_apart():
    ways = Door(SEEN)
    found = {name: ways.writes(name) for name in ways.functions}
    once, twice = ("either", "chosen", "listed"), ("both", "several", "through_a_helper")
    assert found == dict.fromkeys(once, 1) | dict.fromkeys(twice, 2)
