"""Bodies of requests made from the declared fields of the entry behind them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, field, fields, make_dataclass
from types import GenericAlias
from typing import Any, TypeVar, get_type_hints

from shared.declared import KEY, Declared, declare, declared_in

Entry = TypeVar("Entry")


def body_of(entry: type, kind: str, purpose: str, base: type, **rows: type) -> Any:
    """Make the body that records one kind of entry: its own fields before what all kinds have.

    `base` holds what a body says besides the entry; `rows` names the body of each row where it is
    not the entry's own. What is made has no type that can be checked before it runs; `entry_of`
    gives the entry, which has.
    """
    types, made = get_type_hints(entry), []
    for name, declared in _taken(entry, kind):
        holds = GenericAlias(tuple, (rows[name], ...)) if name in rows else types[name]
        made.append((declared.api or name, holds, _field(entry, name, declared)))
    made.sort(key=lambda one: (one[2].default is not MISSING, not one[2].metadata[KEY].kinds))
    body = make_dataclass(f"{kind.capitalize()}Body", made, bases=(base,), frozen=True)
    body.__doc__, body.__module__ = purpose, __name__
    return body


def entry_of(entry: type[Entry], kind: str, body: Any) -> Entry:
    """Give the entry of this kind that a body says."""
    said = {name: getattr(body, one.api or name) for name, one in _taken(entry, kind)}
    make: Callable[..., Entry] = entry
    return make(kind=kind, **said)


def renamed_in(entry: type, kind: str) -> dict[str, str]:
    """Map pointers into the entry to pointers into its body, where names differ."""
    return {f"/{name}": f"/{one.api}" for name, one in _taken(entry, kind) if one.api}


def _taken(entry: type, kind: str) -> list[tuple[str, Declared]]:
    return [
        (name, one.of(kind))
        for name, one in declared_in(entry).items()
        if not one.by_address and kind in (one.kinds or (kind,))
    ]


def _field(entry: type, name: str, declared: Declared) -> Any:
    (usual,) = (one.default for one in fields(entry) if one.name == name)
    said = declare(declared)
    return field(metadata=said) if declared.needed else field(default=usual, metadata=said)
