"""The tests themselves: what asks the book, and no wait by the clock."""

from __future__ import annotations

import re
from pathlib import Path

from tests.conftest import asks_the_book

ROOT = Path(__file__).resolve().parent.parent
BY_THE_CLOCK = re.compile(r"(wait_for_timeout|\bsleep)\(\s*[\d.]*[1-9]")


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
