"""Rows of a file, whatever its line ends, encoding, columns and faults."""

import hashlib

import pytest

from recycling.tables.energy import blocks as energy_blocks
from recycling.tables.energy.blocks import Findings, read_rows
from recycling.tables.energy.layout import read_layout

ROWS = [(f"2025-01-01 10:{i:02}:00", i + 0.5) for i in range(40)]


def content(end="\n", mark=";", decimal=","):
    lines = ["time" + mark + "W"]
    lines += [f"{at}{mark}{str(value).replace('.', decimal)}" for at, value in ROWS]
    return end.join(lines) + end


def read(path, **layout):
    findings = Findings()
    found = read_layout(path)
    rows = list(read_rows(path, found, findings))
    return energy_blocks.Rows.joined(rows), findings


@pytest.mark.parametrize("size", [64, 100, 1 << 20])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_rows_are_the_same_in_any_encoding_and_block_size(
    tmp_path, monkeypatch, size, end, encoding
):
    monkeypatch.setattr(energy_blocks, "BLOCK_BYTES", size)
    path = tmp_path / "log.csv"
    path.write_bytes(content(end).encode(encoding))
    rows, findings = read(path)
    assert rows.value.tolist() == [value for _, value in ROWS]
    assert rows.line.tolist() == list(range(2, 42))
    assert ((rows.us - rows.us[0]) // 60_000_000).tolist() == list(range(40))
    assert findings.problem_count == 0
    assert findings.digest == hashlib.sha256(path.read_bytes()).hexdigest()


def test_last_line_needs_no_end_and_quotes_are_taken_off(tmp_path):
    path = tmp_path / "log.csv"
    body = "".join(f'"{at}","{value}"\n' for at, value in ROWS)
    path.write_text('"time","W"\n' + body.rstrip("\n"))
    rows, findings = read(path)
    assert (len(rows), findings.problem_count) == (40, 0)


def test_date_and_time_columns_are_put_together(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("d;t;W\n" + "".join(f"{at.replace(' ', ';')};{v}\n" for at, v in ROWS))
    rows, findings = read(path)
    assert (len(rows), findings.problem_count) == (40, 0)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("2025-01-01 10:50:00;1.2.3", "'1.2.3' is not a number"),
        ("2025-01-01 10:50:00;1 000", "'1 000' is not a number"),
        ("2025-01-01 10:50:00;1_000", "'1_000' is not a number"),
        ("2025-01-01 10:50:00;0x10", "'0x10' is not a number"),
        ("2025-01-01 10:50:00;inf", "'inf' is not a number"),
        ("2025-01-01 10:50:00;１２", "is not a number"),
        ("2025-01-01 10:50:00;-3,5", "-3.5 is not between"),
        ("2025-01-01 10:50:00;1e13", "is not between 0 and"),
        ("2025-02-30 10:50:00;1", "is not a time with the year first"),
        ("2025-01-01T10:50:00Z;1", "with and without a UTC offset are mixed"),
        ("2025-01-01 10:50:00", "1 columns instead of 2"),
        ("2025-01-01 10:50:00;1;2", "3 columns instead of 2"),
        ("total;400", "'total' is not a time"),
    ],
)
def test_bad_line_is_named_and_the_others_are_read(tmp_path, line, says):
    path = tmp_path / "log.csv"
    path.write_text(content() + line + "\n" + "2025-01-01 10:59:00;7\n")
    rows, findings = read(path)
    (problem,) = findings.problems
    assert problem.line == 42
    assert says in problem.says
    assert rows.line.tolist() == [*range(2, 42), 43]


def test_rows_without_value_and_blank_lines_are_passed_over(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(content() + "\n \n2025-01-01 10:50:00;\n2025-01-01 10:51:00;NaN\n")
    rows, findings = read(path)
    assert (len(rows), findings.missing, findings.problem_count) == (40, 2, 0)


def test_blocks_of_blank_lines_and_longer_times_are_read(tmp_path, monkeypatch):
    monkeypatch.setattr(energy_blocks, "BLOCK_BYTES", 64)
    path = tmp_path / "log.csv"
    path.write_text("\ufeff" + content() + "\n" * 500 + "2025-01-01 10:50:00.123456;7,5\n")
    rows, findings = read(path)
    assert findings.problem_count == 0
    assert (rows.line[-1], rows.value[-1], rows.us[-1] % 10**6) == (542, 7.5, 123456)


def test_only_a_hundred_problems_are_named(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(content() + "2025-01-01 10:50:00;x\n" * 500)
    _, findings = read(path)
    assert (findings.problem_count, len(findings.problems)) == (500, 100)


def test_line_without_end_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(energy_blocks, "BLOCK_BYTES", 1 << 14)
    path = tmp_path / "log.csv"
    path.write_text(content() + "9" * 200_000)
    with pytest.raises(ValueError, match="longer than 65,536 bytes"):
        read(path)
