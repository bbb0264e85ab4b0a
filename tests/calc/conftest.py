"""The independent checks, for the tests of the calculations."""

import json
import os
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def independent_check():
    """Look up one of the independent checks by its number."""
    folder = Path(os.environ.get("CHECKS_DIR", ROOT.parent / "shared" / "checks"))
    if not (folder / "checks.json").exists():
        if os.environ.get("CI"):
            pytest.fail(f"the independent checks are missing: {folder}")
        pytest.skip(f"the independent checks are not at {folder}")
    entries = json.loads((folder / "checks.json").read_text())
    return {entry["id"]: entry for entry in entries}.__getitem__
