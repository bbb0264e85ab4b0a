"""Figures from outside the project that tests compare with, and where each comes from.

They stand in ``tests/checks`` with their sources. Only what is a standard's own file stays outside
the repository: it is looked for where ``CHECKS_DIR`` says, and a test that needs it is skipped
where it is not, unless ``CHECKS_REQUIRED=1`` demands it.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
CHECKS = ROOT / "tests" / "checks"
OUTSIDE = Path(os.environ.get("CHECKS_DIR", ROOT.parent / "shared" / "checks"))


def check_text(name: str) -> str:
    """Read a file of ``tests/checks``."""
    return (CHECKS / name).read_text(encoding="utf-8")


def check(number: int) -> dict[str, Any]:
    """Look up one of the numbered figures: its inputs, what is expected, and the source."""
    return {entry["id"]: entry for entry in json.loads(check_text("figures.json"))}[number]


def standard(name: str) -> Path:
    """Find a standard's own file, or skip the test and say why."""
    path = OUTSIDE / name
    if not path.exists():
        said = f"{name} is the standard's own file and is not here (CHECKS_DIR says where it is)"
        if os.environ.get("CHECKS_REQUIRED") == "1":
            pytest.fail(said)
        pytest.skip(said)
    return path
