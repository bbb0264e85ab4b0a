"""The house: where code lives, how large it may grow, and docs that are true."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CODE = [ROOT / "recycling", ROOT / "api", ROOT / "shared"]
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "manage.py",
    "recycling",
    "api",
    "templates",
    "tests",
    "docker-compose.yml",
    "shared",
    "docs",
    ".ci",
    ".git-blame-ignore-revs",
    ".gitignore",
    "requirements.txt",
    "requirements-dev.txt",
}
ROOMS_WITHOUT_FLOOR = {"migrations"}
BANNED_ROOMS = re.compile(r"^(utils?|helpers?|common|managers?|misc)$")
BANNED_WORDS = {
    "batch number": "lot code",
    "donor": "source",
    "operation_id": "run",
    "regranulate": "pellets",
    "leftover": "heel",
}


def modules() -> list[Path]:
    found = [path for room in CODE for path in room.rglob("*.py")]
    return sorted(path for path in found if "migrations" not in path.parts)


def tracked() -> list[Path]:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return [ROOT / line for line in listed.stdout.splitlines()]


def test_imports_only_go_down():
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as l; l()"]
        + ["--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-1000:]


def test_every_room_has_a_floor():
    contracts = (ROOT / "pyproject.toml").read_text()
    rooms = {path.parent.name for path in (ROOT / "recycling").glob("*/__init__.py")}
    for room in rooms - ROOMS_WITHOUT_FLOOR:
        assert f"recycling.{room}" in contracts, f"recycling/{room} is on no floor"


def test_no_room_or_module_is_a_lumber_room():
    names = {path.stem for path in modules()} | {path.parent.name for path in modules()}
    assert not [name for name in names if BANNED_ROOMS.match(name)]


def test_top_level_holds_what_it_should():
    top = {path.relative_to(ROOT).parts[0] for path in tracked()}
    assert top <= TOP_LEVEL, sorted(top - TOP_LEVEL)


@pytest.fixture(scope="module")
def parsed() -> dict[Path, ast.Module]:
    """Read every module once."""
    return {path: ast.parse(path.read_text()) for path in modules()}


def test_modules_are_small():
    long = {
        str(path.relative_to(ROOT)): lines
        for path in modules()
        if (lines := path.read_text().count("\n")) > (400 if "calc" in path.parts else 300)
    }
    assert not long


def test_functions_are_small(parsed):
    long = {
        f"{path.relative_to(ROOT)}: {node.name}": lines
        for path, module in parsed.items()
        for node in ast.walk(module)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (lines := _code_lines(node)) > 60
    }
    assert not long


def _code_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Count a function's lines without its docstring."""
    first = node.body[0]
    docstring = (
        isinstance(first, ast.Expr)
        and isinstance(first.value, ast.Constant)
        and isinstance(first.value.value, str)
    )
    taken = first.end_lineno - first.lineno + 1 if docstring else 0
    return node.end_lineno - node.lineno + 1 - taken


def test_a_module_opens_with_what_it_is(parsed):
    silent = [str(path.relative_to(ROOT)) for path in parsed if not ast.get_docstring(parsed[path])]
    assert not silent


def test_templates_are_small():
    long = {
        str(path.relative_to(ROOT)): count
        for path in (ROOT / "templates").rglob("*.html")
        if (count := path.read_text().count("\n")) > (40 if "components" in path.parts else 120)
    }
    assert not long


def test_the_style_is_kept():
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--no-cache", "."],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-3000:]


def checked_types(cache: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "mypy", "--cache-dir", str(cache)],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )


def test_types_hold():
    """What mypy worked out is kept, so that only what changed costs time the next time.

    Modules that moved can leave it with what it cannot read any longer; that is thrown away.
    """
    cache = ROOT / "var" / "mypy"
    done = checked_types(cache)
    if "INTERNAL ERROR" in done.stdout + done.stderr:
        shutil.rmtree(cache)
        done = checked_types(cache)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-1000:]


def test_one_word_for_one_thing():
    found = []
    for path in tracked():
        if path.suffix not in {".py", ".html", ".md"} or path == Path(__file__):
            continue
        text = path.read_text().lower()
        found += [
            f"{path.relative_to(ROOT)}: say {better}, not {word}"
            for word, better in BANNED_WORDS.items()
            if word in text
        ]
    assert not found
