"""A small file of entries, and ways to spoil it."""

from __future__ import annotations

import copy
import json

import pytest
from django.core.management import call_command

ENTRIES = [
    {
        "entry": "collection",
        "at": "2026-05-04T09:30:00Z",
        "source": "Corner shop",
        "lot": "bag 1",
        "form": "bottles",
        "polymer": "PET",
        "mass_mg": 4_310_000,
    },
    {
        "entry": "run",
        "key": "monday sort",
        "stage": "sort",
        "machine": "long table",
        "started_at": "2026-05-04T10:00:00Z",
        "ended_at": "2026-05-04T11:15:00Z",
        "inputs": [{"lot": "bag 1", "mass_mg": 4_310_000}],
        "outputs": [
            {"lot": "clean 1", "form": "clean bottles", "mass_mg": 3_790_000},
            {"lot": "caps 1", "form": "caps", "polymer": "HDPE", "mass_mg": 310_000},
        ],
        "losses": [{"account": "residue", "mass_mg": 21_000, "how": "drained"}],
        "unaccounted_mg": 189_000,
    },
    {
        "entry": "run",
        "key": "first shred",
        "stage": "shred",
        "machine": "two-shaft shredder",
        "started_at": "2026-05-05T10:00:00Z",
        "ended_at": "2026-05-05T11:15:00Z",
        "inputs": [{"lot": "clean 1", "mass_mg": 3_000_000}],
        "outputs": [{"lot": "flake 1", "form": "flake", "mass_mg": 2_990_000}],
    },
    {
        "entry": "count",
        "key": "may count",
        "at": "2026-05-06T10:00:00Z",
        "counts": [{"lot": "flake 1", "mass_mg": 2_988_500}],
        "unaccounted_mg": 1_500,
    },
]


@pytest.fixture
def entries():
    """Entries that may be changed at will."""
    return copy.deepcopy(ENTRIES)


@pytest.fixture
def load(tmp_path, db):
    """Load entries from a file called may.json; a text goes in as it is."""

    def loaded(entries, *options):
        file = tmp_path / "may.json"
        file.write_text(
            entries if isinstance(entries, str) else json.dumps({"entries": entries}),
            encoding="utf-8",
        )
        call_command("load_entries", str(file), *options)

    return loaded
