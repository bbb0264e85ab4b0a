"""A stage is named in its own module and nowhere else: what others ask, its declaration says."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from recycling.stages import STAGES

ROOT = Path(__file__).resolve().parent.parent
KEYS = {one.key for one in STAGES}
WORDS = {"count", "cut", "discard", "receive", "screen", "shape", "sort"}
"""Keys that are also words for other things, such as a field: refused where a stage is meant."""
OWN = ("recycling/stages/", "recycling/demo/", "recycling/migrations/", "recycling/locale/")
SHOWN = (
    "recycling/management/",
    "recycling/calc/balance/loss_simulation.py",
    "api/protocol/examples.py",
)
"""Made-up histories to measure and to picture, and the examples of the API's pages."""
BELOW = ("recycling/calc/balance/usual_loss.py", "recycling/calc/planning/step_yield.py")
"""First values, by stage, of what is learnt later: a stage that has none there has the common."""
FINDS_A_STAGE = {"stage", "stage_named", "declared_of", "stage_said", "RunEntry"}
ANY = "|".join(sorted(KEYS))
IN_TEXT = re.compile(rf"stage\w*\W{{1,8}}['\"](?:{ANY})['\"]")
ALONE = re.compile(rf"['\"](?:{'|'.join(sorted(KEYS - WORDS))})['\"]")


def _about_a_stage(node: ast.AST, key: ast.Constant) -> bool:
    """Say whether an expression takes a word for a stage."""
    match node:
        case ast.Compare():
            return any("stage" in ast.unparse(side) for side in (node.left, *node.comparators))
        case ast.keyword():
            return "stage" in (node.arg or "")
        case ast.Subscript():
            return "stage" in ast.unparse(node.value).lower()
        case ast.Call():
            named = ast.unparse(node.func).rpartition(".")[2]
            first = bool(node.args) and node.args[0] is key
            beside = any("stage" in ast.unparse(one) for one in node.args if one is not key)
            return (named in FINDS_A_STAGE and first) or (named == "get" and beside)
    return False


def named_in(source: str) -> Iterator[int]:
    """Give the lines of a module on which a stage is named."""
    tree = ast.parse(source)
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        deep = isinstance(node, ast.Compare)
        for one in ast.walk(node) if deep else ast.iter_child_nodes(node):
            if not isinstance(one, ast.Constant) or not isinstance(one.value, str):
                continue
            word = one.value
            meant = word in KEYS and (word not in WORDS or _about_a_stage(node, one))
            if meant or (id(one) not in docs and IN_TEXT.search(word)):
                yield one.lineno


def test_no_module_outside_the_stages_names_one():
    named = [
        f"{path.relative_to(ROOT)}:{line}"
        for room in ("recycling", "api", "shared")
        for path in sorted((ROOT / room).rglob("*.py"))
        if not str(path.relative_to(ROOT)).startswith((*OWN, *SHOWN, *BELOW))
        for line in sorted(set(named_in(path.read_text())))
    ]
    assert not named


@pytest.mark.parametrize("room, kind", [("templates", "html"), ("recycling/web", "js")])
def test_no_template_or_script_names_a_stage(room, kind):
    named = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in sorted((ROOT / room).rglob(f"*.{kind}"))
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if ALONE.search(line) or IN_TEXT.search(line)
    ]
    assert not named


@pytest.mark.parametrize(
    "code",
    [
        'if run.stage == "count": pass',
        'if run.stage not in ("receive", "count"): pass',
        'Run.objects.filter(run__stage="sort")',
        'cautions_of(stage("count"))',
        'RunEntry("count", at, at)',
        'place_of(row.get("run_stage", "count"))',
        'PURE = "extrude"',
        "SQL = \"SELECT 1 WHERE r.stage <> 'count'\"",
    ],
)
def test_a_stage_that_is_named_is_noticed(code):
    assert list(named_in(code))


@pytest.mark.parametrize("code", ['form.add(row, "count", field)', 'post_run(run, "receive")'])
def test_words_for_other_things_are_left(code):
    assert not list(named_in(code))
