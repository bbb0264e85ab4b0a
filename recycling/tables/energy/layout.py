"""How a file of meter readings or power samples is laid out, found from its first lines.

What cannot be told from the file is asked for by name, never guessed.
"""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from recycling.tables.time_columns import SHAPES, fits, parse_times

SEPARATORS = (";", "\t", ",", "|")
HEAD_BYTES = 1 << 16
MOST_COLUMNS = 500
POWER, COUNTER, INTERVAL = "power", "counter", "interval"
KINDS = (POWER, COUNTER, INTERVAL)
UNITS = {
    POWER: {"w": 1.0, "kw": 1e3, "mw": 1e6, "watt": 1.0, "watts": 1.0},
    COUNTER: {"wh": 1e-3, "kwh": 1.0, "mwh": 1e3},
}
UNITS[INTERVAL] = UNITS[COUNTER]
NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)


@dataclass(frozen=True)
class EnergyLayout:
    """Where time and value stand in a file.

    encoding, separator, decimal: of the text. header_lines: lines before the first row. columns:
    their names. time_columns: places of the time, or of date and time. value_column: place of the
    value. time_shape: one of `SHAPES`. has_offset: whether times say their UTC offset. kind: power
    in W, counter or energy of an interval in kWh. factor: what values are multiplied by for that.
    newest_first: whether rows run backward in time. interval_s: usual time between rows, s.
    time_width: bytes that hold the text of one time column with room to spare.
    """

    encoding: str
    separator: str
    decimal: str
    header_lines: int
    columns: tuple[str, ...]
    time_columns: tuple[int, ...]
    value_column: int
    time_shape: str
    has_offset: bool
    kind: str
    factor: float
    newest_first: bool
    interval_s: float
    time_width: int


@dataclass(frozen=True)
class LayoutChoices:
    """What a person may say about a file; None leaves it to the file itself.

    separator, decimal; time_columns, value_column: names; time_shape: one of `SHAPES`; kind: one
    of `KINDS`; unit: W, kW, MW, Wh, kWh or MWh.
    """

    separator: str | None = None
    decimal: str | None = None
    time_columns: tuple[str, ...] | None = None
    value_column: str | None = None
    time_shape: str | None = None
    kind: str | None = None
    unit: str | None = None


def read_layout(path: Path, choices: LayoutChoices | None = None) -> EnergyLayout:
    """Layout of a CSV file of energy, from its first 64 KiB.

    Raises ValueError, saying what to do, for an empty file, a file of another kind, too many
    columns, no time or number column, several of them, day and month that cannot be told apart,
    an unknown unit, or a choice that the file does not bear out.
    """
    chosen = choices or LayoutChoices()
    encoding, lines = _head(path)
    separator = chosen.separator or _separator(lines)
    rows = [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=separator)]
    start = _first_row(rows)
    columns = _names(rows, start)
    sample = [row for row in rows[start:] if len(row) == len(columns)][:2000]
    places, shape = _time(sample, columns, chosen)
    decimal = chosen.decimal or _decimal(sample, separator, places)
    value = _value(sample, columns, places, decimal, chosen)
    kind, factor = _kind(columns[value], chosen)
    texts = [_joined(row, places) for row in sample]
    times = parse_times(np.array([text.encode() for text in texts]), shape)
    moments = times.us[times.readable]
    steps = np.diff(moments)
    return EnergyLayout(
        encoding,
        separator,
        decimal,
        start,
        tuple(columns),
        places,
        value,
        shape,
        bool(times.is_utc[times.readable].mean() > 0.5),
        kind,
        factor,
        len(moments) > 1 and bool((steps < 0).sum() > (steps > 0).sum()),
        float(np.median(np.abs(steps[steps != 0]))) / 1e6 if steps.any() else 0.0,
        max(map(len, texts)) + 3,
    )


def _head(path: Path) -> tuple[str, list[str]]:
    with open(path, "rb") as file:
        head = file.read(HEAD_BYTES)
    if not head.strip():
        raise ValueError("the file is empty")
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    elif b"\0" in head or head.startswith((b"PK", b"%PDF", b"\x1f\x8b")):
        raise ValueError("this is not a text file: export the log as CSV")
    else:
        encoding = "utf-8-sig" if _is_utf8(head) else "cp1252"
    text = head.decode(encoding, errors="ignore")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if len(head) == HEAD_BYTES:
        lines = lines[:-1]
    if not lines:
        raise ValueError("the first line is longer than 65,536 bytes: this is not a log of energy")
    return encoding, lines


def _is_utf8(head: bytes) -> bool:
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        return len(head) == HEAD_BYTES and error.start >= len(head) - 3
    return True


def _separator(lines: Sequence[str]) -> str:
    filled = [line for line in lines if line.strip()]
    body = filled[len(filled) // 2 :][:200]
    score = {mark: _steadiness(body, mark) for mark in SEPARATORS}
    best = max(score, key=score.__getitem__)
    if not score[best]:
        raise ValueError("no columns: semicolon, tab, comma or bar must stand between them")
    return best


def _steadiness(lines: Sequence[str], mark: str) -> float:
    """How alike lines are in their number of columns; a mark that is also a decimal comma loses."""
    counts = [len(row) - 1 for row in csv.reader(lines, delimiter=mark) if row]
    usual = max(set(counts), key=counts.count) if counts else 0
    share = counts.count(usual) / len(counts) if usual else 0.0
    return share if mark != "," else share * 0.9


def _is_number(cell: str) -> bool:
    return NUMBER.fullmatch(cell) is not None


def _shapes_of(text: str) -> list[str]:
    return [shape for shape in SHAPES if fits(shape, text)]


def _looks_like_time(row: Sequence[str]) -> bool:
    cells = [*row, *(f"{a} {b}" for a, b in zip(row, row[1:], strict=False))]
    return any(_shapes_of(cell) for cell in cells[: 2 * MOST_COLUMNS])


def _first_row(rows: Sequence[Sequence[str]]) -> int:
    if max(map(len, rows), default=0) > MOST_COLUMNS:
        raise ValueError(f"more than {MOST_COLUMNS} columns: this is not a log of energy")
    for place, row in enumerate(rows[:200]):
        if any(map(_is_number, row)) and _looks_like_time(row):
            while place and len(rows[place - 1]) == len(row) and _looks_like_time(rows[place - 1]):
                place -= 1
            return place
    raise ValueError("no row with a date, a time and a number was found in the first 200 lines")


def _names(rows: Sequence[Sequence[str]], start: int) -> list[str]:
    width = len(rows[start])
    header = rows[start - 1] if start and len(rows[start - 1]) == width else ()
    names = [name or f"column {place + 1}" for place, name in enumerate(header)]
    return names or [f"column {place + 1}" for place in range(width)]


def _joined(row: Sequence[str], places: Sequence[int]) -> str:
    return " ".join(row[place] for place in places)


def _place(columns: Sequence[str], name: str) -> int:
    if name not in columns:
        raise ValueError(f"there is no column {name}: {', '.join(columns)}")
    return columns.index(name)


def _time(sample, columns, chosen) -> tuple[tuple[int, ...], str]:
    if chosen.time_columns:
        pairs = [tuple(_place(columns, name) for name in chosen.time_columns)]
    else:
        pairs = [(place,) for place in range(len(columns))]
        pairs += [(place, place + 1) for place in range(len(columns) - 1)]
    for places in pairs:
        texts = [_joined(row, places) for row in sample[:400]]
        wanted = [chosen.time_shape] if chosen.time_shape else list(SHAPES)
        readable = {shape: _readable(texts, shape) for shape in wanted}
        shape = max(readable, key=readable.__getitem__)
        if readable[shape] > 0.9 * len(texts):
            if readable.get("day first") == readable.get("month first") == readable[shape]:
                raise ValueError(
                    f"{texts[0]}: day or month first? The file does not tell; choose the order"
                )
            return places, shape
    if chosen.time_shape and chosen.time_shape not in SHAPES:
        raise ValueError(f"{chosen.time_shape} is not one of {', '.join(SHAPES)}")
    raise ValueError(f"no column holds times: {', '.join(columns)}")


def _readable(texts: Sequence[str], shape: str) -> int:
    if shape not in SHAPES:
        return 0
    return int(parse_times(np.array([text.encode() for text in texts]), shape).readable.sum())


def _decimal(sample, separator: str, places: Sequence[int]) -> str:
    cells = [
        cell
        for row in sample
        for place, cell in enumerate(row)
        if place not in places and _is_number(cell)
    ]
    commas, points = any("," in cell for cell in cells), any("." in cell for cell in cells)
    if commas and points:
        raise ValueError("numbers have both decimal commas and points: choose one")
    return "," if commas and separator != "," else "."


def _value(sample, columns, places, decimal: str, chosen) -> int:
    if chosen.value_column:
        return _place(columns, chosen.value_column)
    known = {unit for units in UNITS.values() for unit in units}
    numbers = [
        place
        for place in range(len(columns))
        if place not in places
        and sum(_is_number(row[place]) for row in sample) > 0.05 * len(sample)
    ]
    fitting = [place for place in numbers if _unit_of(columns[place]) in known] or numbers
    if len(fitting) == 1:
        return fitting[0]
    if not fitting:
        raise ValueError(f"no column holds numbers: {', '.join(columns)}")
    names = ", ".join(columns[place] for place in fitting)
    raise ValueError(f"several columns hold numbers: choose one of {names}")


def _unit_of(name: str) -> str | None:
    known = {unit for units in UNITS.values() for unit in units}
    words = [word for word in re.split(r"[^A-Za-z]+", name) if word]
    return next((word.lower() for word in reversed(words) if word.lower() in known), None)


def _kind(name: str, chosen) -> tuple[str, float]:
    unit = chosen.unit.lower() if chosen.unit else _unit_of(name)
    kind = chosen.kind or next((kind for kind in KINDS if unit in UNITS[kind]), None)
    if kind not in KINDS:
        raise ValueError(f"does {name} hold power, a counter, or the energy of each interval?")
    if unit is None:
        raise ValueError(f"the unit of {name} is not known: choose {', '.join(UNITS[kind])}")
    if unit not in UNITS[kind]:
        raise ValueError(f"{unit} is not a unit of {kind}: choose {', '.join(UNITS[kind])}")
    return kind, UNITS[kind][unit]
