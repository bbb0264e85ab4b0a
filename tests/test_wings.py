"""The wings: on each floor the same names, in one order, and nothing beside them unseen."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from recycling.wings import WINGS

ROOT = Path(__file__).resolve().parent.parent
KEYS = [wing.key for wing in WINGS]
AT_THE_ROOT = {
    "api": {"health", "protocol", "urls"},
    "recycling/web": {"book_words", "failures", "formats", "forms", "languages"}
    | {"offline", "one_moment", "pages", "readable", "request_log", "sessions"}
    | {"addresses", "book_away", "budgets", "templatetags", "urls", "words"},
    "recycling/tasks": set(),
    "recycling/services": {"once", "rehearsal"},
    "recycling/queries": {"one_moment", "paging"},
    "recycling/models": {"archived"},
    "recycling/tables": {"csv_text", "photos", "time_columns", "wall_time"},
    "recycling/records": {"actors", "drawings", "paging", "recorded"},
    "recycling/calc": {"guards", "keys"},
}
"""What each floor holds beside its wings: what serves all of them."""
BELOW = {"api": ["protocol"], "recycling/web": ["forms", "pages"]}
"""What the wings of a floor stand on."""
TOOLS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]


def names_in(folder: Path) -> set[str]:
    """Name the modules and the folders with modules in them; a folder left empty is none."""
    modules = {path.stem for path in folder.glob("*.py")}
    return (modules | {path.parent.name for path in folder.glob("*/*.py")}) - {"__init__"}


def test_each_wing_stands_once_and_is_explained_in_its_order():
    assert len(KEYS) == len(set(KEYS))
    told = (ROOT / "DEVELOPERS.md").read_text()
    rows = "".join(f"| `{wing.key}` | {wing.about} |\n" for wing in WINGS)
    assert rows in told


@pytest.mark.parametrize("floor", AT_THE_ROOT)
def test_a_floor_holds_wings_and_what_serves_them_all(floor):
    assert not names_in(ROOT / floor) - AT_THE_ROOT[floor] - set(KEYS)


@pytest.mark.parametrize("floor", AT_THE_ROOT)
def test_wings_of_a_floor_only_point_back(floor):
    """The contract is kept by import-linter; here, that there is one and names every wing."""
    dotted = floor.replace("/", ".")
    [layers] = [
        one["layers"]
        for one in TOOLS["importlinter"]["contracts"]
        if one.get("containers") == [dotted]
    ]
    named = [one.strip("()") for one in layers]
    wings = [f"({key})" for key in reversed(KEYS)]
    assert [one for one in layers if one.strip("()") in KEYS] == wings
    assert named[len(named) - len(BELOW.get(floor, [])) :] == BELOW.get(floor, [])


@pytest.mark.parametrize("floor", AT_THE_ROOT)
def test_a_folder_holds_more_than_one_module(floor):
    folders = [path for path in (ROOT / floor).iterdir() if path.name in KEYS and path.is_dir()]
    assert not [path.name for path in folders if len(names_in(path)) == 1]


@pytest.mark.parametrize("room", ["calc", "queries", "services", "tables"])
def test_tests_follow_the_wings(room):
    folders = {path.parent.name for path in (ROOT / "tests" / room).glob("*/*.py")}
    assert not folders - set(KEYS)


def test_templates_follow_the_wings():
    folders = {path.parent.name for path in (ROOT / "templates").glob("*/*.html")}
    assert not folders - set(KEYS) - {"components", "forms", "offline", "pages"}
