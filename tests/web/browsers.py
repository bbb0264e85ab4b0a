"""The browser that tests drive: Debian's Chromium, with nothing asked of the outside."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

CHROMIUM = "/usr/bin/chromium"
ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
]


@contextmanager
def started(*more: str) -> Iterator[Any]:
    """Start Chromium with these arguments besides, and close it afterwards."""
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=[*ARGS, *more])
        yield browser
        browser.close()
