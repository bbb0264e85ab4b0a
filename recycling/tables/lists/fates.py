"""What becomes of each row: in the book already, alike within the list, or new."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.folded import folded
from shared.said import say

Print = tuple[str, date, str, str, str, int]
"""Kind, day, giver, polymer, form and mass in mg."""


@dataclass(frozen=True)
class ListRow:
    """A row of a list that was read: a bag and what is said of it."""

    number: int
    at: datetime
    timed: bool
    day: date
    mass_mg: int
    kind: str = "collection"
    source: str = ""
    programme: str = ""
    polymer: str = ""
    form: str = "bottles"
    colour: str = ""
    count: int | None = None
    note: str = ""
    bag: str = ""
    supplier: str = ""
    document: str = ""
    consent: str = ""
    about: bool = False

    @property
    def print(self) -> Print:
        """By what a row is recognised in the book."""
        giver = folded(self.source or self.supplier)
        return self.kind, self.day, giver, self.polymer, self.form, self.mass_mg

    @property
    def marks(self) -> frozenset[str]:
        """What else tells it from another: bag number and note."""
        return frozenset(folded(one) for one in (self.note, self.bag) if one)


@dataclass(frozen=True)
class BookLot:
    """A lot that came in, as the book has it, or as the list said that it was taken from."""

    code: str
    print: Print
    marks: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Fates:
    """Rows that are new, and those in the book with the code of their lot."""

    new: Sequence[ListRow]
    known: dict[int, str]


def fates_of(rows: Sequence[ListRow], book: Iterable[BookLot], asking: Asking) -> Fates | None:
    """Part the rows into known and new ones; None while something is asked.

    A lot of the book may have two prints, what it is now and what its list said; it is met once.
    """
    lots: dict[Print, list[BookLot]] = defaultdict(list)
    every = list(book)
    for lot in every:
        lots[lot.print].append(lot)
    used, known = set[str](), dict[int, str]()
    for exact in (True, False):
        for row in rows:
            if row.number in known:
                continue
            for lot in lots.get(row.print, ()):
                if lot.code not in used and _same(row.marks, lot.marks, exact):
                    known[row.number] = lot.code
                    used.add(lot.code)
                    break
    left = [row for row in rows if row.number not in known]
    new = _alike(left, rows, known, asking)
    if new is None:
        return None
    if not _changed(new, known, [lot for lot in every if lot.code not in used], asking):
        return None
    return Fates([row for row in new if row.number not in asking.skipped], known)


def _same(row: frozenset[str], lot: frozenset[str], exact: bool) -> bool:
    if exact:
        return bool(row & lot)
    return not row or not lot


def _alike(
    left: Sequence[ListRow], rows: Sequence[ListRow], known: dict[int, str], asking: Asking
) -> list[ListRow] | None:
    """Ask once about rows that nothing tells apart; `left` are those not met in the book."""
    groups: dict[tuple[object, ...], list[ListRow]] = defaultdict(list)
    for row in rows:
        clock = row.at if row.timed else None
        groups[(row.print, row.marks, clock, row.colour, row.count, row.programme)].append(row)
    open_rows = {row.number for row in left}
    doubled = [
        group
        for group in groups.values()
        if len(group) > 1 and any(row.number in open_rows for row in group)
    ]
    if not doubled:
        return list(left)
    answer = asking.ask(
        "alike",
        "known",
        say(
            "{count} rows stand there more than once, alike in everything. Are they bags of their"
            " own?",
            count=sum(map(len, doubled)),
        ),
        [
            Choice("own", say("They are bags of their own")),
            Choice("twice", say("They were entered twice: take one of each")),
        ],
        doubled[0][1].number,
    )
    if answer is None:
        return None
    if answer == "twice":
        for group in doubled:
            met = [row for row in group if row.number in known]
            keep = met[0] if met else group[0]
            for row in group:
                if row is not keep and row.number not in known:
                    asking.skipped[row.number] = "entered twice"
    return [row for row in left if row.number not in asking.skipped]


def _changed(
    new: Sequence[ListRow], known: dict[int, str], unmet: Sequence[BookLot], asking: Asking
) -> bool:
    """Ask where a list that is known has a row of a day and giver whose lot no row says any more.

    Whether to go on.
    """
    if len(known) < len(new) or not known:
        return True
    there = {lot.print[:5] for lot in unmet}
    changed = [row for row in new if row.print[:5] in there]
    if not changed:
        return True
    answer = asking.ask(
        "changed",
        "known",
        say(
            "Most of this list is in the book. Row {row} has the day and giver of a bag whose mass"
            " no row has any more. Was that bag put right in the list?",
            row=changed[0].number,
        ),
        [
            Choice("new", say("It is another bag: take it too")),
            Choice("leave", say("Leave it out; the bag is put right on its own page")),
        ],
        changed[0].number,
    )
    if answer == "leave":
        asking.skipped.update({row.number: "put right by hand" for row in changed})
    return answer is not None
