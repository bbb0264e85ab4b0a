"""Rows of a list as what the services take, checked by the rules that need no book."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from datetime import date, datetime
from itertools import groupby
from typing import Any

from recycling.records.lots.mass_entries import WeighingEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.tables.lists.asking import Asking
from recycling.tables.lists.fates import ListRow
from recycling.tables.lists.heads import Column
from recycling.tables.lists.words import BAG
from shared.declared import heads_of, lengths_in
from shared.errors import Collected
from shared.said import say
from shared.texts import check_signs

HEAD, BAG_HEADS = heads_of(OriginEntry), heads_of(BagEntry)
MOST_BAGS, MOST_COUNT = 200, 10**7
LONGEST_NAME = 120
LIMITS = {**lengths_in(OriginEntry), "colour": lengths_in(BagEntry)["colour"]}
LIMITS |= {BAG: lengths_in(BagEntry)["note"], "source": LONGEST_NAME}
EXAMPLES: Mapping[str, Mapping[str, str]] = {
    "collection": {
        "at": "2026-05-04 09:30",
        "source": "Corner shop",
        "polymer": "PET",
        "form": "bottles",
        "mass": "4.31 kg",
        "count": "90",
        "bag": "12",
        "note": "Example: delete this row",
    },
    "purchase": {
        "at": "2026-05-04",
        "supplier": "Pellet trader",
        "document": "delivery note 12",
        "polymer": "PET",
        "form": "pellets",
        "mass": "25 kg",
        "note": "Example: delete this row",
    },
    "opening": {
        "kind": "opening",
        "at": "2026-05-04",
        "polymer": "PET",
        "form": "flake",
        "colour": "clear",
        "mass": "12.5 kg",
        "note": "Example: delete this row",
    },
}
"""A list for each kind: its heads, and a row that is left out when it is brought."""


def kept(row: ListRow) -> dict[str, Any]:
    """Write a row as plain data."""
    return asdict(row) | {"at": row.at.isoformat(), "day": row.day.isoformat()}


def again(data: Mapping[str, Any]) -> ListRow:
    """Read a row that was kept."""
    at, day = datetime.fromisoformat(data["at"]), date.fromisoformat(data["day"])
    return ListRow(**{**data, "at": at, "day": day})


def grouped(rows: Iterable[ListRow]) -> Iterable[tuple[OriginEntry, Sequence[ListRow]]]:
    """Join rows that follow each other and agree in all but the bag: they came in together."""
    for _same, group in groupby(rows, _head):
        together = list(group)
        for start in range(0, len(together), MOST_BAGS):
            part = together[start : start + MOST_BAGS]
            yield _origin(part), part


def _head(row: ListRow) -> tuple[object, ...]:
    texts = (row.source, row.programme, row.supplier, row.document, row.consent, row.note)
    return row.kind, row.at, row.timed, texts


def _origin(rows: Sequence[ListRow]) -> OriginEntry:
    first = rows[0]
    return OriginEntry(
        kind=first.kind,
        happened_at=first.at,
        bags=tuple(_bag(row) for row in rows),
        source=first.source,
        programme=first.programme,
        supplier=first.supplier,
        document=first.document,
        consent=first.consent,
        note=first.note,
    )


def _bag(row: ListRow) -> BagEntry:
    return BagEntry(
        mass_mg=row.mass_mg,
        form=row.form,
        polymer=row.polymer,
        colour=row.colour,
        count=row.count,
        weighing=WeighingEntry(how="estimated") if row.about else WeighingEntry(),
        note=row.bag,
    )


def check_rows(rows: Iterable[ListRow], columns: Sequence[Column], asking: Asking) -> None:
    """Name texts that are too long or hold signs that are not kept, and counts out of bounds."""
    heads = {one.field: one.head for one in columns if one.field}
    texts = [one.name for one in fields(ListRow) if one.name in LIMITS]
    looked = dict[str, str]()
    for row in rows:
        for name in texts:
            text = getattr(row, name)
            if not text:
                continue
            if len(text) > LIMITS[name]:
                asking.wrong("text-too-long", say("Too long."), row.number, heads.get(name, name))
            strange = looked.get(text)
            if strange is None:
                strange = looked[text] = _strange(text)
            if strange:
                asking.wrong("text-unreadable", strange, row.number, heads.get(name, name))
        if row.count is not None and not 0 < row.count < MOST_COUNT:
            words = say("A count is a whole number from 1.")
            asking.wrong("count-wrong", words, row.number, heads.get("count", "count"))


def _strange(text: str) -> str:
    found = Collected()
    check_signs(text, "", found)
    return found.problems[0].detail if found.problems else ""
