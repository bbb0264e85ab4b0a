"""What came in as CSV: a row for each bag, read into what the services take."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import fields, replace
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from recycling.records.lots.origin_entries import ORIGINS, BagEntry, OriginEntry
from recycling.tables.lists.entries_file import FileEntry
from shared.declared import declared_in, heads_of
from shared.errors import Collected, Problem, Refused
from shared.said import say
from shared.units import parse_mass

HEAD, BAG = heads_of(OriginEntry), heads_of(BagEntry)
NEEDED = tuple(
    one.columns[0]
    for entry in (OriginEntry, BagEntry)
    for one in declared_in(entry).values()
    if one.always and len(one.columns) == 1
)
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL, LONGEST_NAME = 5_000, 200, 500, 40
KEPT = LONGEST_CELL + 1
"""Characters of a cell that go on: enough for the rules to see that there are too many."""
STAND_IN_MG, SOME_TIME = 1_000, datetime(1970, 1, 1, tzinfo=UTC)

Cells = dict[str, str]


def read_rows(
    text: str, zone: str, tick: Callable[[], None] = lambda: None
) -> tuple[list[FileEntry], tuple[Problem, ...]]:
    r"""Read a CSV file of bags that came in; rows that follow each other with one head are one.

    Each entry's place is the line of its first bag; the header is line 1. What cannot be read
    is told with a pointer such as ``/4/mass``: line and column; something that could have stood
    there stands in for it, so that the rest of the row can be looked at. A time without offset is
    by the clock of the zone, an IANA name. `tick` is called at each row and may refuse to go on.

    Raises
    ------
    Refused
        When the file cannot be read at all.

    Examples
    --------
    >>> (one,), _ = read_rows("at,source,polymer,mass\n2026-05-04 09:30,Corner shop,PET,4.31 kg\n"
    ...     "2026-05-04 09:30,Corner shop,HDPE,200 g\n", "Europe/Lisbon")
    >>> one.place, one.makes, [bag.mass_mg for bag in one.entry.bags]
    (2, ('row 2', 'row 3'), [4310000, 200000])
    >>> one.entry.happened_at.isoformat()
    '2026-05-04T09:30:00+01:00'
    """
    found, before = Collected(), None
    read: list[tuple[OriginEntry, list[int], list[BagEntry]]] = []
    for line, cells in _cells(text, found):
        tick()
        head = tuple(cells.get(name, "") for name in HEAD)
        bag = _bag(line, cells, found)
        if head != before or not read:
            before = head
            at = _moment(cells.get("at", ""), ZoneInfo(zone), f"/{line}/at", found)
            read.append((_origin(line, cells, at, found), [], []))
        _origin_of_bag, lines, bags = read[-1]
        lines.append(line)
        bags.append(bag)
    return [_entry(*one) for one in read], tuple(found.problems)


def _entry(origin: OriginEntry, lines: list[int], bags: list[BagEntry]) -> FileEntry:
    names = tuple(f"row {line}" for line in lines)
    return FileEntry(lines[0], names[0], replace(origin, bags=tuple(bags)), names)


def column_of(text: str) -> Callable[[str], str]:
    """Give what names the column of a file that a field of an entry was read from.

    Examples
    --------
    >>> column = column_of("at,mass")
    >>> column("happened_at"), column("mass_mg"), column("source")
    ('at', 'mass', 'source')
    """
    columns = {"machine": "form"}
    for entry in (OriginEntry, BagEntry):
        columns |= {name: one.columns[0] for name, one in declared_in(entry).items() if one.columns}
    if "mass_mg" in text.partition("\n")[0].lower():
        columns["mass_mg"] = "mass_mg"
    return lambda name: columns.get(name, name)


def _cells(text: str, found: Collected) -> Iterator[tuple[int, Cells]]:
    first = text.partition("\n")[0]
    separator = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        names = [name.strip().lower() for name in next(reader, [])]
        _refuse_names(names)
        for place, row in enumerate(reader):
            if place >= MOST_ROWS:
                said = say("At most {most} rows; split the file.", most=MOST_ROWS)
                raise Refused.because("too-many-rows", said, f"/{reader.line_num}")
            if any(cell.strip() for cell in row):
                if any(cell.strip() for cell in row[len(names) :]):
                    found.add("row-too-long", "More cells than columns.", f"/{reader.line_num}")
                yield reader.line_num, dict(zip(names, map(str.strip, row), strict=False))
    except csv.Error as error:
        said = say("This line cannot be read as CSV: {why}.", why=str(error))
        raise Refused.because("row-unreadable", said, f"/{reader.line_num}") from error


def _refuse_names(names: list[str]) -> None:
    if len(names) > MOST_COLUMNS:
        said = say("At most {most} columns; leave out those without heads.", most=MOST_COLUMNS)
        raise Refused.because("too-many-columns", said, "/1")
    found = Collected()
    for name, count in Counter(names).items():
        if name not in (*HEAD, *BAG):
            said = say("There is no column “{name}”.", name=name[:LONGEST_NAME])
            found.add("column-unknown", said, f"/1/{name[:LONGEST_NAME]}")
        elif count > 1:
            found.add("column-twice", "This column is there twice.", f"/1/{name}")
    for name in NEEDED:
        if name not in names:
            found.add("column-missing", say("A column “{name}” is needed.", name=name), "/1")
    if not {"mass", "mass_mg"} & set(names):
        found.add("column-missing", "A column “mass” or “mass_mg” is needed.", "/1")
    found.refuse()


def _bag(line: int, cells: Cells, found: Collected) -> BagEntry:
    for name, cell in cells.items():
        if len(cell) > LONGEST_CELL:
            found.add("text-too-long", "Too long.", f"/{line}/{name}")
    mass, plain, mass_mg = cells.get("mass", ""), cells.get("mass_mg", ""), STAND_IN_MG
    if bool(mass) == bool(plain):
        found.add("mass-missing", "Give the mass, once.", f"/{line}/mass")
    with _collected(found):
        if mass and not plain:
            mass_mg = parse_mass(mass, f"/{line}/mass", bare_unit=None)
        elif plain and not mass:
            mass_mg = _whole(plain, f"/{line}/mass_mg")
    return BagEntry(mass_mg, **_plain(BagEntry, line, cells, found))


def _plain(entry: type, line: int, cells: Cells, found: Collected) -> dict[str, Any]:
    """Read texts and whole numbers under their declared heads; what is empty is as usual."""
    read: dict[str, Any] = {}
    for one in fields(entry):
        declared = declared_in(entry)[one.name]
        cell = cells.get(declared.columns[0], "") if declared.columns else ""
        if one.type == "str" and (cell or declared.needed):
            read[one.name] = cell[:KEPT]
        elif one.type == "int | None" and cell:
            with _collected(found):
                read[one.name] = _whole(cell, f"/{line}/{declared.columns[0]}")
    return read


@contextmanager
def _collected(found: Collected) -> Iterator[None]:
    """Collect what is refused inside, and go on."""
    try:
        yield
    except Refused as refused:
        for problem in refused.problems:
            found.add(problem.code, problem.detail, problem.pointer)


def _whole(text: str, pointer: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        raise Refused.because("whole-wanted", "A whole number is wanted.", pointer)
    return int(text)


def _origin(line: int, cells: Cells, at: datetime, found: Collected) -> OriginEntry:
    kind = cells.get("kind") or "collection"
    if kind not in ORIGINS:
        detail = say("One of {kinds}.", kinds=", ".join(ORIGINS))
        found.add("kind-unknown", detail, f"/{line}/kind")
        kind = ORIGINS[0]
    said = {"happened_at": at, "bags": (), **_plain(OriginEntry, line, cells, found)}
    return OriginEntry(**(said | {"kind": kind}))


def _moment(text: str, zone: ZoneInfo, pointer: str, found: Collected) -> datetime:
    """Read a time, without offset by the clock of the zone unless that shows it twice or never."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        found.add("time-unreadable", "Write date and time as 2026-05-04 09:30.", pointer)
        return SOME_TIME
    if at.tzinfo is not None:
        return at
    first, second = (at.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() != second.utcoffset():
        found.add(
            "time-without-offset",
            "Clocks show this time twice or never: add its offset, as in 2026-05-04T09:30+02:00.",
            pointer,
        )
        return SOME_TIME
    return first
