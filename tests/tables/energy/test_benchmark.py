"""The import beside pandas reading and summing the same file (the goal is for ten million rows)."""

import pytest

from recycling.tables.energy.benchmark import Benchmark, measure, write_samples

ROWS = 1_000_000


@pytest.mark.slow
def test_import_keeps_up_with_reading_and_summing(tmp_path):
    path = tmp_path / "log.csv"
    write_samples(path, ROWS)
    found = measure(path, rounds=1)
    assert found.rows == ROWS
    assert found.ratio <= 1.5
    assert found.ours_mib <= 1536


def test_failure_of_a_process_is_told(tmp_path):
    with pytest.raises(RuntimeError, match="FileNotFoundError"):
        measure(tmp_path / "nothing.csv", rounds=1)


def test_ratios_are_of_medians():
    found = Benchmark(10, 2.0, 4.0, 3.0, 1.0, 1.0)
    assert (found.ratio, found.dated_ratio) == (1.5, 0.75)
