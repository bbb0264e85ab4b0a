"""What each entry of a run says now, and what it said before it was put right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from recycling.records.exchange.exports import ExportEntry, ExportRun
from recycling.stages import Keys
from recycling.stages.declaration import LOSSES, UNACCOUNTED

ROOTS = frozenset({"receive", "run", "draw", "output", "loss", "close"})
"""Kinds of entries that say something of their own; the others change what these say."""
LOT, PROCESS = "lot", "process"
OCCURRED_NOT, INCORRECT = "did_not_occur", "incorrect_data"
AT_THE_BORDER = Keys(lambda one: one.border)

Account = tuple[str, str]


@dataclass
class Version:
    """What an entry said from one moment on.

    Attributes
    ----------
    root, by : int
        Number of the entry, and of the one by which it came to say this.
    happened_at, written_at : datetime
        When it happened, and when it came to say this.
    last : bool
        Whether it is the last entry of its run, which carries what was logged.
    masses : dict
        Mass in mg by account and lot; plus is into the account.
    wrong_at : datetime or None
        When it was declared wrong.
    why : str
        "did_not_occur" or "incorrect_data" (words of the Core Business Vocabulary).
    """

    root: int
    by: int
    happened_at: datetime
    written_at: datetime
    masses: dict[Account, int]
    last: bool = False
    wrong_at: datetime | None = None
    why: str = ""
    right: Version | None = None

    @property
    def drawn(self) -> dict[str, int]:
        """Mass drawn from each lot, in mg."""
        return {lot: -mass for (kind, lot), mass in self.masses.items() if kind == LOT and mass < 0}

    @property
    def given(self) -> dict[str, int]:
        """Mass of each lot that was given, in mg."""
        return {lot: mass for (kind, lot), mass in self.masses.items() if kind == LOT and mass > 0}

    @property
    def losses(self) -> dict[str, int]:
        """Mass into each loss account, in mg; below zero for a gain."""
        return {
            kind: mass
            for (kind, _), mass in self.masses.items()
            if kind in (*LOSSES, UNACCOUNTED) and mass
        }

    @property
    def empty(self) -> bool:
        """Whether nothing is left of it."""
        return not (self.drawn or self.given or self.losses)


@dataclass
class _Reading:
    """A run's entries as far as they were read."""

    run: ExportRun
    now: dict[int, Version] = field(default_factory=dict)
    told: list[Version] = field(default_factory=list)
    places: dict[int, tuple[int, Account]] = field(default_factory=dict)


def versions(run: ExportRun, entries: Iterable[ExportEntry]) -> list[Version]:
    """Tell a run's entries in order, each as often as it was put right.

    A correction changes what one entry said, and with it what closed the run; a void says of
    all that they did not occur.
    """
    reading, closing = _Reading(run), None
    for entry in sorted(entries, key=lambda one: one.sequence):
        if entry.kind in ROOTS:
            closing = entry.sequence
            _add(reading, entry)
        elif entry.kind == "correct":
            _correct(reading, entry, closing)
        elif entry.kind == "void":
            _void(reading, entry.written_at)
    if closing is not None and run.ended_at is not None:
        for version in reading.told:
            version.last = version.root == closing
    return reading.told


def _add(reading: _Reading, entry: ExportEntry) -> None:
    masses: dict[Account, int] = {}
    for posting in entry.postings:
        place = (posting.account, posting.lot)
        reading.places[posting.posting] = (entry.sequence, place)
        masses[place] = masses.get(place, 0) + posting.mass_mg
    version = Version(entry.sequence, entry.sequence, entry.happened_at, entry.written_at, masses)
    reading.now[entry.sequence] = version
    reading.told.append(version)


def _correct(reading: _Reading, entry: ExportEntry, closing: int | None) -> None:
    changes: dict[int, dict[Account, int]] = {}
    roots = [reading.places[one.corrects][0] for one in entry.postings if one.corrects]
    for posting in entry.postings:
        if posting.corrects:
            root, place = reading.places[posting.corrects]
        else:
            place = (posting.account, posting.lot)
            itself = reading.run.stage in AT_THE_BORDER or posting.account == PROCESS
            root = roots[0] if itself or closing is None else closing
        of_root = changes.setdefault(root, {})
        of_root[place] = of_root.get(place, 0) + posting.mass_mg
    for root, moved in changes.items():
        _replace(reading, root, moved, entry)


def _replace(reading: _Reading, root: int, moved: dict[Account, int], entry: ExportEntry) -> None:
    old = reading.now[root]
    masses = dict(old.masses)
    for place, mass_mg in moved.items():
        masses[place] = masses.get(place, 0) + mass_mg
    new = Version(root, entry.sequence, old.happened_at, entry.written_at, masses)
    reading.now[root] = new
    if new.empty:
        old.wrong_at, old.why = entry.written_at, OCCURRED_NOT
        return
    old.wrong_at, old.why, old.right = entry.written_at, INCORRECT, new
    reading.told.append(new)


def _void(reading: _Reading, at: datetime) -> None:
    for version in reading.now.values():
        if version.wrong_at is None:
            version.wrong_at, version.why = at, OCCURRED_NOT
