"""Write a long history into the book's own tables by the quickest way there is."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from recycling.calc.lots.composition import TRACES, Composition
from recycling.calc.lots.recomposition import recompose
from recycling.ledger.models import (
    BORDER,
    ENTRIES_PER_BOOK,
    LOT,
    PROCESS,
    Account,
    Book,
    Entry,
    Posting,
)
from recycling.management.benchmark.history import EXTRUDERS, MINUTES_EACH, History
from recycling.management.benchmark.rows import (
    go_on_counting,
    lift_time_limit,
    take_stock_of_tables,
    write_rows,
)
from recycling.models import Composition as Part
from recycling.models import Draw, Lot, Origin, Run, RunOperator, Spool, Workshop
from recycling.queries.people.workshops import lead_of, workshop_ids
from recycling.records.actors import Actor
from recycling.records.people import WorkshopEntry
from recycling.records.setup.entries import MachineEntry, SourceEntry
from recycling.services.people.workshops import workshop_open
from recycling.services.setup.register import machine_add, source_add
from shared.codes import code_for

RUNS_A_LOT = 0.4
Say = Callable[[str], Any]


def benchmark_book(lots: int, say: Say) -> Actor:
    """Find or build a workshop whose book has at least so many lots."""
    slug = f"benchmark-{lots}"
    if slug in workshop_ids():
        found = lead_of(slug)
        assert found is not None
        say(f"the book “{slug}” is there already")
        return found
    say(f"building the book “{slug}”: imagining its history")
    history = History(
        timezone.now() - MINUTES_EACH * int(lots * RUNS_A_LOT),
        key=Account.objects.aggregate(Max("pk"))["pk__max"] or 0,
        origins=Origin.objects.aggregate(Max("pk"))["pk__max"] or 0,
    )
    history.grow(lots)
    assert history.runs[-1].ended_at < timezone.now(), "the history ends before now"
    say(f"{len(history.lots)} lots of {len(history.runs)} runs; composing them")
    parts = recompose(history.masses(), {}, Workshop().trace_floor_ppm)
    with transaction.atomic():
        lift_time_limit()
        lead, machines, source = _open(slug)
        Writer(lead, history, machines, source, parts, say).write()
    take_stock_of_tables()
    return lead


def _open(slug: str) -> tuple[Actor, dict[str, int], int]:
    lead = workshop_open(
        WorkshopEntry(slug.capitalize(), slug, "Lead", f"{slug}-lead", secrets.token_urlsafe(24))
    )
    kinds = {"shredder": "shredder", "dryer": "dryer"} | dict.fromkeys(EXTRUDERS, "extruder")
    machines = {name: machine_add(lead, MachineEntry(name, kind)) for name, kind in kinds.items()}
    return lead, machines, source_add(lead, SourceEntry("Everybody", "other"))


class Writer:
    """Writes a history table by table; postings before the entries that seal them."""

    def __init__(
        self,
        lead: Actor,
        history: History,
        machines: dict[str, int],
        source: int,
        parts: dict[Any, Composition],
        say: Say,
    ) -> None:
        self.lead, self.history, self.machines, self.source = lead, history, machines, source
        self.parts, self.say = parts, say
        self.book_id, self.now = lead.workshop_id, timezone.now()
        borders = sorted({a for run in history.runs for a, _ in run.changes if type(a) is tuple})
        self.borders = {name: history.key + place for place, name in enumerate(borders, 1)}
        self.balances: dict[int, int] = {}
        self.last: dict[int, datetime] = {}
        for run in history.runs:
            for account, mass_mg in run.changes:
                key = self._key(account)
                self.balances[key] = self.balances.get(key, 0) + mass_mg
                self.last[key] = run.ended_at

    def _key(self, account: int | tuple[str, str]) -> int:
        return self.borders[account] if isinstance(account, tuple) else account

    def write(self) -> None:
        """Write every table."""
        self._accounts()
        self._runs_and_lots()
        self._compositions()
        self._ledger()
        Book.objects.filter(pk=self.book_id).update(
            last_number=self.history.number, last_sequence=len(self.history.runs)
        )
        go_on_counting(Account, Origin)

    def _accounts(self) -> None:
        names = ("id", "book_id", "kind", "name", "commodity", "balance_mg", "last_at")

        def rows() -> Iterator[tuple]:
            for run in self.history.runs:
                yield run.key, self.book_id, PROCESS, "", "PET", 0, None
                for lot in run.lots:
                    yield self._account(lot.key, LOT, "", lot.polymer)
            for (name, polymer), key in self.borders.items():
                yield self._account(key, BORDER, name, polymer)

        self.say(f"{write_rows(Account, names, rows())} accounts")

    def _account(self, key: int, kind: str, name: str, polymer: str) -> tuple:
        return key, self.book_id, kind, name, polymer, self.balances[key], self.last[key]

    def _runs_and_lots(self) -> None:
        book, history = self.book_id, self.history
        write_rows(
            Origin,
            ("id", "workshop_id", "kind", "code", "number", "source_id", "happened_at"),
            (
                (key, book, Origin.COLLECTION, code_for("C", number), number, self.source, at)
                for key, number, at in history.came
            ),
        )
        names = "account_id workshop_id code number stage state polymer machine_id origin_id"
        write_rows(
            Run,
            (*names.split(), "started_at", "ended_at"),
            (
                (run.key, book, code_for("R", run.number), run.number, run.stage, Run.CLOSED)
                + ("PET", self.machines.get(run.machine), run.origin)
                + (run.started_at, run.ended_at)
                for run in history.runs
            ),
        )
        member = self.lead.member_id
        write_rows(RunOperator, ("run_id", "member_id"), ((r.key, member) for r in history.runs))
        names = "account_id workshop_id code number form polymer role made_by_id made_mg"
        lots = history.lots.values()
        write_rows(
            Lot,
            (*names.split(), "origin_id", "machine_id", "traces_mg"),
            (
                (lot.key, book, code_for("S" if lot.form == "filament" else "L", lot.number))
                + (lot.number, lot.form, lot.polymer, lot.role, lot.run, lot.mass_mg, lot.origin)
                + (self.machines.get(lot.machine), self.parts[lot.key].get(TRACES, 0))
                for lot in lots
            ),
        )
        write_rows(Spool, ("lot_id",), ((lot.key,) for lot in lots if lot.form == "filament"))
        drawn = ((r.key, lot, mass) for r in history.runs for lot, mass in r.draws.items())
        self.say(f"{write_rows(Draw, ('run_id', 'lot_id', 'mass_mg'), drawn)} draws")

    def _compositions(self) -> None:
        rows = (
            (lot, origin, mass_mg)
            for lot, parts in self.parts.items()
            for origin, mass_mg in parts.items()
            if origin is not TRACES
        )
        self.say(f"{write_rows(Part, ('lot_id', 'origin_id', 'mass_mg'), rows)} parts of origins")

    def _ledger(self) -> None:
        base = self.book_id * ENTRIES_PER_BOOK
        postings = (
            (base + sequence, self._key(account), mass_mg)
            for sequence, run in enumerate(self.history.runs, 1)
            for account, mass_mg in run.changes
        )
        count = write_rows(Posting, ("entry_id", "account_id", "mass_mg"), postings)
        take_stock_of_tables()
        names = "id book_id sequence process_id kind happened_at written_at actor"
        entries = (
            (base + sequence, self.book_id, sequence, run.key)
            + ("receive" if run.stage == "receive" else "run", run.ended_at, self.now)
            + (self.lead.reference,)
            for sequence, run in enumerate(self.history.runs, 1)
        )
        self.say(f"{count} postings of {write_rows(Entry, names.split(), entries)} entries")
