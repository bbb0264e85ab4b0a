"""Every code that something is refused with stands on the errors page, with what it means."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs/reference/errors.md"
CODE = re.compile(r"[a-z]+(-[a-z]+)+")
NAMED = {"source", "programme", "machine", "scale", "container"}


def codes_in(path: Path) -> set[str]:
    """Collect the first arguments of because(), add() and Problem(), both sides of an if too."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        called = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if called not in {"because", "add", "Problem", "wrong", "Unread", "Wrong"}:
            continue
        for part in ast.walk(node.args[0]):
            if isinstance(part, ast.Constant) and CODE.fullmatch(str(part.value)):
                found.add(part.value)
    return found


def all_codes() -> set[str]:
    rooms = [ROOT / room for room in ("recycling", "api", "shared")]
    codes = {code for room in rooms for path in room.rglob("*.py") for code in codes_in(path)}
    return codes | {f"{what}-unknown" for what in NAMED}


def documented() -> dict[str, str]:
    rows = re.findall(r"^\| `([a-z-]+)` \| (.+) \|$", PAGE.read_text(), re.M)
    assert len(rows) == len(dict(rows)), "a code stands there twice"
    return dict(rows)


def test_every_code_is_documented_with_its_meaning_and_what_to_do():
    codes, page = all_codes(), documented()
    assert len(codes) > 100
    assert not sorted(codes - page.keys())
    for code, words in page.items():
        meaning, _, remedy = words.partition(" | ")
        assert meaning.strip() and remedy.strip(), code


def test_no_documented_code_is_out_of_use():
    """A code may have a name of its own before it is used."""
    rooms = [ROOT / room for room in ("recycling", "api", "shared")]
    written = {
        node.value
        for room in rooms
        for path in room.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert not sorted(documented().keys() - all_codes() - written)


def test_the_collector_sees_codes(tmp_path):
    module = tmp_path / "one.py"
    module.write_text(
        "found.add('a-b', 'words')\nRefused.because('c-d' if x else 'e-f', '')\n"
        "Problem('g-h', 'i-j')\nnames.add('plain')\nother('k-l')\n"
    )
    assert codes_in(module) == {"a-b", "c-d", "e-f", "g-h"}
