"""A large log of power: the whole import against pandas reading and summing the same file."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from recycling.management.benchmark.measure import Ratio
from recycling.records.actors import Actor
from recycling.tables.energy.benchmark import measure, write_samples

SAMPLES = 10_000_000
MOST_ROUNDS = 3
MOST_MIB = 1536


def energy_ratios(actor: Actor, cases: int) -> list[Ratio]:
    """Measure the import of ten million samples, in processes of their own, turn by turn."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "power.csv"
        write_samples(path, SAMPLES)
        rounds = min(cases, MOST_ROUNDS)
        found = measure(path, rounds)
    if found.ours_mib > MOST_MIB:
        raise AssertionError(f"the import took {found.ours_mib:.0f} MiB, more than {MOST_MIB}")
    note = f"most memory {found.ours_mib:.0f} MiB, pandas {found.plain_mib:.0f} MiB"
    shared: dict[str, Any] = {"cases": rounds, "note": note}
    return [
        Ratio(
            f"import {found.rows:,} samples",
            "pandas reading and summing",
            found.ours_s * 1000,
            found.plain_s * 1000,
            goal=1.5,
            **shared,
        ),
        Ratio(
            "the same, times read",
            "pandas reading times too",
            found.ours_s * 1000,
            found.dated_s * 1000,
            goal=None,
            **shared,
        ),
    ]
