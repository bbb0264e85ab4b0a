"""The tests themselves: one name in every process, and no wait by the clock."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import asks_the_book

ROOT = Path(__file__).resolve().parent.parent
BY_THE_CLOCK = re.compile(r"(wait_for_timeout|\bsleep)\(\s*[\d.]*[1-9]")
ONLY_LISTED = "addopts=--doctest-modules --import-mode=importlib -p no:cacheprovider -q"


def names(seed: int) -> list[str]:
    """List every test as a process of its own sees it, with hashes of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "--collect-only", "-o", ONLY_LISTED],
        cwd=ROOT,
        env=os.environ | {"PYTHONHASHSEED": str(seed)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return [line for line in done.stdout.splitlines() if "::" in line]


@pytest.mark.slow
def test_each_test_goes_by_the_same_name_in_every_process():
    """Or work could not be handed out by name: no address, no moment, no order of a set."""
    first, second = names(1), names(2)
    assert len(first) > 1000
    assert first == second


def test_what_asks_the_book_is_told_by_its_fixtures(request, module_book):
    assert asks_the_book(request.node)


def test_what_asks_no_book_is_told_apart(request):
    assert not asks_the_book(request.node)


def test_no_test_waits_by_the_clock():
    """What is waited for is written and asked again and again; see ``tests/waiting.py``."""
    polls = {"tests/waiting.py", "tests/test_concurrency.py"}
    fixed = [
        f"{path.relative_to(ROOT)}: {line.strip()}"
        for path in sorted((ROOT / "tests").rglob("*.py"))
        if str(path.relative_to(ROOT)) not in polls
        for line in path.read_text().splitlines()
        if BY_THE_CLOCK.search(line)
    ]
    assert not fixed
