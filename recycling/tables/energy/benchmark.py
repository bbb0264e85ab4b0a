"""How long an import of a power log takes, beside pandas reading and summing the same file."""

import json
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np


@dataclass(frozen=True)
class Benchmark:
    """Medians of interleaved rounds. s: seconds; mib: most memory of a process of its own, MiB.

    plain: pandas.read_csv and sum; dated: the same with its times parsed; ours: the whole import.
    """

    rows: int
    plain_s: float
    dated_s: float
    ours_s: float
    plain_mib: float
    ours_mib: float

    @property
    def ratio(self) -> float:
        """Time of the import over that of pandas reading and summing the file."""
        return self.ours_s / self.plain_s

    @property
    def dated_ratio(self) -> float:
        """Time of the import over that of pandas reading, parsing times and summing."""
        return self.ours_s / self.dated_s


def write_samples(path: Path, rows: int, seed: int = 1) -> None:
    """Write a power log, one sample a second in W with one decimal, invented by a seed.

    Times are those of a wall clock that is set back an hour on the way.
    """
    rng = np.random.default_rng(seed)
    start, set_back = np.datetime64("2025-09-01T00:00:00"), np.datetime64("2025-10-26T01:00:00")
    with open(path, "w") as file:
        file.write("time,power_w\n")
        for first in range(0, rows, 500_000):
            count = min(500_000, rows - first)
            at = start + np.arange(first, first + count).astype("m8[s]")
            times = np.datetime_as_string(at + np.where(at < set_back, 7200, 3600).astype("m8[s]"))
            watts = rng.integers(0, 20_000, count) / 10
            pairs = zip(times.tolist(), watts.tolist(), strict=True)
            file.write("".join(f"{wall},{w}\n" for wall, w in pairs))


def measure(path: Path, rounds: int = 3) -> Benchmark:
    """Time both ways on one file, each round in fresh processes, one after the other.

    Raises RuntimeError if the sums differ, or a process fails.
    """
    found: dict[str, list[dict]] = {"plain": [], "dated": [], "ours": []}
    for _ in range(rounds):
        for way, runs in found.items():
            runs.append(_run(way, path))
    sums = [run["sum"] for runs in found.values() for run in runs]
    if not np.allclose(sums, sums[0], rtol=1e-9):
        raise RuntimeError(f"the sums differ: {sums}")
    seconds = {way: median(run["s"] for run in runs) for way, runs in found.items()}
    memory = {way: max(run["mib"] for run in runs) for way, runs in found.items()}
    return Benchmark(
        found["ours"][0]["rows"],
        seconds["plain"],
        seconds["dated"],
        seconds["ours"],
        memory["plain"],
        memory["ours"],
    )


def _run(way: str, path: Path) -> dict:
    command = [sys.executable, "-m", "recycling.tables.energy.benchmark", way, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(done.stderr)
    return json.loads(done.stdout)


def _timed(way: str, path: Path) -> dict:
    import resource
    from zoneinfo import ZoneInfo

    import pandas as pd

    from recycling.tables.energy.layout import read_layout
    from recycling.tables.energy.read import EnergyChoices, import_energy

    start = time.perf_counter()
    if way == "ours":
        choices = EnergyChoices(max_gap_s=60, zone=ZoneInfo("Europe/Berlin"))
        preview, _ = import_energy(path, read_layout(path), choices)
        total, rows = preview.value_sum, preview.rows
    else:
        frame = pd.read_csv(path, parse_dates=["time"] if way == "dated" else None)
        total, rows = float(frame["power_w"].sum()), len(frame)
    seconds = time.perf_counter() - start
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"s": seconds, "sum": total, "rows": rows, "mib": most}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(_timed(sys.argv[1], Path(sys.argv[2]))))
