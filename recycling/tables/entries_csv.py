"""What came in as CSV: a row for each bag, read into what the services take."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from recycling.records.entries import BagEntry, OriginEntry
from recycling.tables.entries_file import ORIGINS, FileEntry
from shared.errors import Collected, Problem, Refused
from shared.said import say
from shared.units import parse_mass

HEAD = ("kind", "at", "source", "programme", "supplier", "document", "consent", "note")
BAG = ("form", "polymer", "colour", "mass", "mass_mg", "count")
MOST_ROWS, LONGEST_CELL = 5_000, 500
STAND_IN_MG, SOME_TIME = 1_000, datetime(1970, 1, 1, tzinfo=UTC)

Cells = dict[str, str]


def read_rows(text: str, zone: str) -> tuple[list[FileEntry], tuple[Problem, ...]]:
    r"""Read a CSV file of bags that came in; rows that follow each other with one head are one.

    Each entry's place is the line of its first bag; the header is line 1. What cannot be read
    is told with a pointer such as ``/4/mass``: line and column; something that could have stood
    there stands in for it, so that the rest of the row can be looked at. A time without offset is
    by the clock of the zone, an IANA name.

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
    found, entries, before = Collected(), list[FileEntry](), None
    for line, cells in _cells(text, found):
        head = tuple(cells.get(name, "") for name in HEAD)
        bag = _bag(line, cells, found)
        if head == before and entries:
            entries[-1] = _with(entries[-1], line, bag)
            continue
        before = head
        at = _moment(cells.get("at", ""), ZoneInfo(zone), f"/{line}/at", found)
        entries.append(
            FileEntry(line, f"row {line}", _origin(line, cells, bag, at, found), (f"row {line}",))
        )
    return entries, tuple(found.problems)


def column_of(name: str, text: str) -> str:
    """Name the column that a field of an entry was read from.

    Examples
    --------
    >>> column_of("happened_at", ""), column_of("mass_mg", "at,mass"), column_of("source", "")
    ('at', 'mass', 'source')
    """
    if name == "mass_mg":
        return name if name in text.partition("\n")[0].lower() else "mass"
    return {"happened_at": "at", "machine": "form"}.get(name, name)


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
    found = Collected()
    for name in names:
        if name not in (*HEAD, *BAG):
            said = say("There is no column “{name}”.", name=name)
            found.add("column-unknown", said, f"/1/{name[:40]}")
        elif names.count(name) > 1:
            found.add("column-twice", "This column is there twice.", f"/1/{name}")
    for name in ("at", "polymer"):
        if name not in names:
            found.add("column-missing", say("A column “{name}” is needed.", name=name), "/1")
    if not {"mass", "mass_mg"} & set(names):
        found.add("column-missing", "A column “mass” or “mass_mg” is needed.", "/1")
    found.refuse()


def _bag(line: int, cells: Cells, found: Collected) -> BagEntry:
    for name, cell in cells.items():
        if len(cell) > LONGEST_CELL:
            found.add("text-too-long", "Too long.", f"/{line}/{name}")
    mass, plain, count = (cells.get(name, "") for name in ("mass", "mass_mg", "count"))
    mass_mg, pieces = STAND_IN_MG, None
    if bool(mass) == bool(plain):
        found.add("mass-missing", "Give the mass, once.", f"/{line}/mass")
    with _collected(found):
        if mass and not plain:
            mass_mg = parse_mass(mass, f"/{line}/mass", bare_unit=None)
        elif plain and not mass:
            mass_mg = _whole(plain, f"/{line}/mass_mg")
    with _collected(found):
        pieces = _whole(count, f"/{line}/count") if count else None
    return BagEntry(
        mass_mg,
        cells.get("form") or "bottles",
        cells.get("polymer", ""),
        cells.get("colour", ""),
        pieces,
    )


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


def _origin(line: int, cells: Cells, bag: BagEntry, at: datetime, found: Collected) -> OriginEntry:
    kind = cells.get("kind") or "collection"
    if kind not in ORIGINS:
        detail = say("One of {kinds}.", kinds=", ".join(ORIGINS))
        found.add("kind-unknown", detail, f"/{line}/kind")
        kind = ORIGINS[0]
    said = {name: cells.get(name, "") for name in HEAD if name not in ("kind", "at")}
    return OriginEntry(kind, at, (bag,), **said)


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


def _with(entry: FileEntry, line: int, bag: BagEntry) -> FileEntry:
    assert isinstance(entry.entry, OriginEntry)
    origin = replace(entry.entry, bags=(*entry.entry.bags, bag))
    return replace(entry, entry=origin, makes=(*entry.makes, f"row {line}"))
