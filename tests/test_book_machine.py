"""Histories of random deeds against a small plain model, with the audit after each change.

Every deed is tried whether it is allowed or not: the model says beforehand what must come of it.
``BOOK_EXAMPLES`` and ``BOOK_STEPS`` set how many histories and how long; both are printed.
With ``BOOK_SHRINK`` a failing history is made as short as possible, which may take minutes.
"""

from __future__ import annotations

import os
from datetime import timedelta

import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)

from recycling.ledger.models import Account, Posting
from recycling.models import Composition, Lot
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import CountEntry, DrawEntry, LossEntry, OutputEntry
from recycling.records.lots.notes import HoldEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.runs.entries import CheckEntry, CorrectionEntry, RunEntry
from recycling.services.lots.holds import hold_place, hold_release
from recycling.services.lots.lots_count import lots_count
from recycling.services.lots.origin_record import origin_record
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.run_close import run_close
from recycling.services.runs.run_open import run_draw, run_loss_add, run_open, run_output_add
from recycling.services.runs.run_record import run_record
from recycling.services.runs.void import run_void
from shared.errors import Refused
from tests.book_model import CLOSED, OPEN, VOID, Count, Figure, Made, Model
from tests.factories import START, WorkshopFactory

EXAMPLES = int(os.environ.get("BOOK_EXAMPLES", "40"))
STEPS = int(os.environ.get("BOOK_STEPS", "40"))
SHRINK = bool(os.environ.get("BOOK_SHRINK"))
FORM = "oversize"  # what a shredder takes and gives, so that any lineage can come about

picks = st.integers(0, 10**6)
hours = st.integers(0, 60)
masses = st.one_of(st.integers(1, 3_000), st.integers(1_000, 5_000_000))
some_masses = st.lists(masses, min_size=1, max_size=3)
counter = {"steps": 0, "refused": 0}


class BookMachine(RuleBasedStateMachine):
    """Deeds of people, in any order, at any time."""

    def __init__(self) -> None:
        super().__init__()
        self.atom = transaction.atomic()
        self.atom.__enter__()
        self.actor = WorkshopFactory()
        self.model, self.clock = Model(), 0

    def teardown(self) -> None:
        try:
            self.compositions_are_exact()
        finally:
            transaction.set_rollback(True)
            self.atom.__exit__(None, None, None)

    # What the deeds share

    def moment(self, hour: int) -> int:
        """Return a second that nothing else happened at."""
        self.clock += 1
        return hour * 3600 + self.clock

    def time(self, second: int):
        return START + timedelta(seconds=second)

    def lot(self, pick: int) -> str:
        lots = list(self.model.makers)
        return lots[pick % len(lots)]

    def run(self, pick: int, state: str = "") -> str:
        runs = [one.code for one in self.model.runs.values() if state in ("", one.state)]
        return runs[pick % len(runs)]

    def attempt(self, wanted: set[str], deed, *args):
        """Do a deed; it is refused with just these codes, or done when there is none."""
        counter["steps"] += 1
        try:
            result = deed(self.actor, *args)
        except Refused as refused:
            counter["refused"] += 1
            assert {problem.code for problem in refused.problems} == wanted, str(refused)
            self.agree_on_masses()
            return None
        assert not wanted, f"done, though {wanted}"
        self.agree()
        return result

    def tried(self, figures: list[Figure]) -> set[str]:
        """Say what the model says of figures that would be added: too much drawn, or nothing."""
        self.model.figures += figures
        sound = self.model.sound({one.lot for one in figures if one.lot})
        if not sound:
            del self.model.figures[-len(figures) :]
        return set() if sound else {"lot-overdrawn"}

    def keep(self, run: str, figures: list[Figure]) -> None:
        """Note which posting carries each figure, in the order written."""
        codes = {lot.pk: lot.code for lot in Lot.objects.filter(workshop_id=self.actor.workshop_id)}
        known = {one.posting for one in self.model.figures}
        rows = Posting.objects.filter(entry__process__run__code=run, corrects=None)
        rows = rows.filter(entry__book_id=self.actor.workshop_id).order_by("pk")
        for posting in rows.exclude(pk__in=known).select_related("account"):
            name = codes.get(posting.account_id, "")
            if not name and posting.account.name != "dust":
                continue
            one = next(f for f in figures if f.lot == name and not f.posting)
            assert one.mass_mg == posting.mass_mg
            one.posting, one.sign = posting.pk, 1 if posting.mass_mg > 0 else -1
        assert all(one.posting for one in figures)

    def agree(self) -> None:
        """Compare the book with the model, and audit it."""
        self.agree_on_masses()
        assert audit(self.actor.workshop_id) == []

    def agree_on_masses(self) -> None:
        """Compare every lot, open run and border with the model."""
        accounts = Account.objects.filter(book_id=self.actor.workshop_id)
        rows = accounts.values_list("kind", "name", "lot__code", "run__code", "balance_mg")
        stored = {name or lot or run: mass for _, name, lot, run, mass in rows}
        assert len(stored) == len(rows), "a border account of another commodity"
        for lot in self.model.makers:
            assert stored[lot] == self.model.on_hand(lot), lot
        for code, run in self.model.runs.items():
            inside = self.model.in_process(code) if run.state == OPEN else 0
            assert stored[code] == inside, code
        assert stored.get("unaccounted", 0) == self.model.unaccounted()
        assert stored.get("dust", 0) == self.model.dust()

    def compositions_are_exact(self) -> None:
        """Compare stored compositions with fractions."""
        parts: dict[str, dict[str, int]] = {}
        for part in Composition.objects.filter(
            lot__workshop_id=self.actor.workshop_id
        ).select_related("lot", "origin"):
            parts.setdefault(part.lot.code, {})[part.origin.code] = part.mass_mg
        for lot, (shares, off) in self.model.compositions().items():
            made = self.model.made_mg(lot)
            for origin in shares.keys() | parts.get(lot, {}).keys():
                stored = parts.get(lot, {}).get(origin, 0)
                assert abs(stored - shares.get(origin, 0) * made) <= off, (lot, origin)
        if connection.vendor == "postgresql":
            connection.check_constraints()

    def add_run(self, code: str, kind: str, state: str, at: int, lots, origin: str = "") -> None:
        self.model.runs[code] = Made(code, kind, state, at, at, origin)
        self.model.makers |= {lot.code: code for lot in lots}

    # Deeds

    @initialize(bags=some_masses)
    def begin(self, bags) -> None:
        self.receive(0, bags)

    @rule(hour=hours, bags=some_masses)
    def receive(self, hour, bags) -> None:
        at = self.moment(hour)
        entry = OriginEntry("opening", self.time(at), tuple(BagEntry(m, FORM) for m in bags))
        result = origin_record(self.actor, entry)
        self.add_run(result.run, "receive", CLOSED, at, result.lots, result.code)
        figures = [
            Figure(result.run, lot.code, at, mass)
            for lot, mass in zip(result.lots, bags, strict=True)
        ]
        self.model.figures += figures
        self.keep(result.run, figures)
        self.agree()

    @rule(hour=hours, lots=st.lists(picks, min_size=1, max_size=3), drawn=some_masses,
          share=st.integers(1, 120), given=st.integers(0, 3), dust=st.integers(0, 900))  # fmt: skip
    def record(self, hour, lots, drawn, share, given, dust) -> None:
        at, names = self.moment(hour), list(dict.fromkeys(map(self.lot, lots)))
        draws = dict(zip(names, drawn * 3, strict=False))
        out = [max(1, sum(draws.values()) * share // 100 // given)] * given if given else []
        figures = [Figure("?", lot, at, -mass) for lot, mass in draws.items()]
        self.model.runs["?"] = Made("?", "run", CLOSED, at, at)
        wanted = {"lot-held"} if any(map(self.model.held, draws)) else self.tried(figures)
        entry = RunEntry(
            "shred",
            self.time(at),
            self.time(at),
            inputs=tuple(DrawEntry(lot, mass) for lot, mass in draws.items()),
            outputs=tuple(OutputEntry(FORM, mass) for mass in out),
            losses=(LossEntry("dust", dust),) if dust else (),
        )
        if wanted:
            del self.model.runs["?"]
            self.attempt(wanted, run_record, entry)
            return
        result = run_record(self.actor, entry)
        del self.model.runs["?"]
        self.add_run(result.code, "run", CLOSED, at, result.lots)
        for figure in figures:
            figure.run = result.code
        more = [
            Figure(result.code, lot.code, at, mass)
            for lot, mass in zip(result.lots, out, strict=True)
        ] + ([Figure(result.code, "", at, dust)] if dust else [])
        self.model.figures += more
        self.keep(result.code, figures + more)
        counter["steps"] += 1
        self.agree()

    @rule(hour=hours)
    def open(self, hour) -> None:
        at = self.moment(hour)
        result = run_open(self.actor, RunEntry("shred", self.time(at)))
        self.add_run(result.code, "run", OPEN, at, ())
        self.agree()

    def has_open(self) -> bool:
        return any(one.state == OPEN for one in self.model.runs.values())

    def happens(self, run: str, figures: list[Figure], deed, *args):
        """Post into an open run, unless it is too early, held, circular or too much."""
        at = figures[0].at
        wanted: set[str] = set()
        draws = [one.lot for one in figures if one.lot and one.mass_mg < 0]
        if at < self.model.runs[run].started:
            wanted = {"before-start"}
        elif not draws and not any(one.run == run and one.lot for one in self.model.figures):
            wanted = {"inputs-missing"}
        elif any(self.model.makers[lot] in self.model.downstream(run) for lot in draws):
            wanted = {"lot-own-output"}
        elif any(map(self.model.held, draws)):
            wanted = {"lot-held"}
        wanted = wanted or self.tried(figures)
        result = self.attempt(wanted, deed, *args)
        if result:
            self.model.runs[run].last = max(at, self.model.runs[run].last)
            self.keep(run, figures)

    @precondition(has_open)
    @rule(pick=picks, lot=picks, mass=masses, hour=hours)
    def draw(self, pick, lot, mass, hour) -> None:
        run, name, at = self.run(pick, OPEN), self.lot(lot), self.moment(hour)
        figures = [Figure(run, name, at, -mass)]
        self.happens(run, figures, run_draw, run, [DrawEntry(name, mass)], self.time(at))

    @precondition(has_open)
    @rule(pick=picks, given=some_masses, hour=hours)
    def output(self, pick, given, hour) -> None:
        run, at = self.run(pick, OPEN), self.moment(hour)
        entries = [OutputEntry(FORM, mass) for mass in given]
        wanted = set() if self.model.draws(run) else {"inputs-missing"}
        if at < self.model.runs[run].started:
            wanted = {"before-start"}
        if wanted:
            self.attempt(wanted, run_output_add, run, entries, self.time(at))
            return
        result = run_output_add(self.actor, run, entries, self.time(at))
        self.model.makers |= {lot.code: run for lot in result.lots}
        self.model.runs[run].last = max(at, self.model.runs[run].last)
        figures = [
            Figure(run, lot.code, at, mass) for lot, mass in zip(result.lots, given, strict=True)
        ]
        self.model.figures += figures
        self.keep(run, figures)
        self.agree()

    @precondition(has_open)
    @rule(pick=picks, mass=masses, hour=hours)
    def lose(self, pick, mass, hour) -> None:
        run, at = self.run(pick, OPEN), self.moment(hour)
        figures = [Figure(run, "", at, mass)]
        self.happens(run, figures, run_loss_add, run, [LossEntry("dust", mass)], self.time(at))

    @precondition(has_open)
    @rule(pick=picks, hour=hours)
    def close(self, pick, hour) -> None:
        run, at = self.model.runs[self.run(pick, OPEN)], self.moment(hour)
        wanted = set()
        if not self.model.draws(run.code):
            wanted.add("inputs-missing")
        if any(one.run == run.code and one.at > at for one in self.model.figures):
            wanted.add("end-before-entries")
        if at < run.started:
            wanted = {"before-start"}
        if not wanted:
            run.state = CLOSED
        self.attempt(wanted, run_close, run.code, self.time(at))

    @rule(pick=picks, mass=st.one_of(masses, st.just(0)), near=st.booleans())
    def correct(self, pick, mass, near) -> None:
        figure = self.model.figures[pick % len(self.model.figures)]
        old = figure.mass_mg
        if near:
            mass = max(0, abs(old) + mass % 2_000 - 1_000)
        wanted: set[str] = set()
        new = figure.sign * mass
        run = self.model.runs[figure.run]
        if run.state == VOID:
            wanted = {"run-void"}
        elif new == old:
            wanted = {"nothing-changed"}
        elif figure.sign < 0 and not old and self.circular(figure):
            wanted = {"lot-own-output"}
        if not wanted:
            figure.mass_mg = new
            if figure.lot and not self.model.sound({figure.lot}):
                figure.mass_mg, wanted = old, {"lot-overdrawn"}
        entry = CorrectionEntry(figure.posting, mass, "misread")
        self.attempt(wanted, posting_correct, entry)

    def circular(self, figure: Figure) -> bool:
        return self.model.makers[figure.lot] in self.model.downstream(figure.run)

    @rule(pick=picks)
    def void(self, pick) -> None:
        run = self.model.runs[self.run(pick)]
        given, wanted, before = self.model.given(run.code), set(), run.state
        counted = {count.lot for count in self.model.counts if self.standing(count)}
        if run.state == VOID:
            wanted = {"run-void"}
        elif any(self.model.users(lot) for lot in given):
            wanted = {"run-drawn-on"}
        elif counted & set(given):
            wanted = {"run-counted-since"}
        if not wanted:
            run.state = VOID
            touched = {one.lot for one in self.model.figures if one.run == run.code and one.lot}
            touched |= {count.lot for count in self.model.counts if count.run == run.code}
            if not self.model.sound(touched):
                run.state, wanted = before, {"lot-overdrawn"}
        self.attempt(wanted, run_void, run.code, "a mistake")

    def standing(self, count: Count) -> bool:
        return self.model.runs[count.run].state != VOID

    @rule(pick=picks, mass=st.one_of(masses, st.just(0)), agrees=st.booleans(), hour=hours)
    def count(self, pick, mass, agrees, hour) -> None:
        lot, at = self.lot(pick), self.moment(hour)
        before = [found for when, found in self.model.path(lot) if when < at]
        mass = before[-1] if agrees and before else mass
        made = min(one.at for one in self.model.figures if one.lot == lot)
        count, wanted = Count("?", lot, at, mass), set()
        self.model.runs["?"] = Made("?", "count", CLOSED, at, at)
        self.model.counts.append(count)
        if self.model.runs[self.model.makers[lot]].state == VOID:
            wanted = {"run-void"}
        elif at < made:
            wanted = {"count-too-early"}
        elif not self.model.sound({lot}):
            wanted = {"lot-overdrawn"}
        del self.model.runs["?"]
        entry = RunEntry("count", self.time(at), self.time(at), counts=(CountEntry(lot, mass),))
        if wanted:
            self.model.counts.pop()
            self.attempt(wanted, lots_count, entry)
            return
        count.run = lots_count(self.actor, entry).code
        self.add_run(count.run, "count", CLOSED, at, ())
        counter["steps"] += 1
        self.agree()

    @rule(pick=picks, mass=masses, whole=st.booleans(), hour=hours)
    def dispatch(self, pick, mass, whole, hour) -> None:
        lot, at = self.lot(pick), self.moment(hour)
        mass = self.model.on_hand(lot) if whole else mass
        figures = [Figure("?", lot, at, -mass)]
        self.model.runs["?"] = Made("?", "dispatch", CLOSED, at, at)
        wanted = {"lot-held"} if self.model.held(lot) else set()
        if whole and not mass:
            wanted = {"lot-used-up"}
        wanted = wanted or self.tried(figures)
        del self.model.runs["?"]
        entry = RunEntry(
            "dispatch",
            self.time(at),
            self.time(at),
            inputs=(DrawEntry(lot, None if whole else mass, all=whole),),
            checks=(CheckEntry("receiver", "Makers"),),
        )
        if wanted:
            self.attempt(wanted, run_record, entry)
            return
        result = run_record(self.actor, entry)
        figures[0].run = result.code
        self.add_run(result.code, "dispatch", CLOSED, at, ())
        self.keep(result.code, figures)
        counter["steps"] += 1
        self.agree()

    @rule(pick=picks, spreads=st.booleans())
    def hold(self, pick, spreads) -> None:
        lot = self.lot(pick)
        same = [s for target, s in self.model.holds.values() if target == lot]
        wanted = {"hold-exists"} if (any(same) if spreads else same) else set()
        result = self.attempt(wanted, hold_place, HoldEntry(lot, "looks odd", spreads))
        if result:
            self.model.holds[result.holds[0]] = (lot, spreads)

    @precondition(lambda self: self.model.holds)
    @rule(pick=picks)
    def release(self, pick) -> None:
        hold = list(self.model.holds)[pick % len(self.model.holds)]
        del self.model.holds[hold]
        self.attempt(set(), hold_release, hold, "looked at, fine")


@pytest.mark.slow
@pytest.mark.django_db
def test_the_book_does_what_the_model_says(capsys):
    profile = settings(
        max_examples=EXAMPLES,
        stateful_step_count=STEPS,
        deadline=None,
        database=None,
        phases=[phase for phase in Phase if phase != Phase.shrink or SHRINK],
        suppress_health_check=list(HealthCheck),
    )
    counter.update(steps=0, refused=0)
    run_state_machine_as_test(BookMachine, settings=profile)
    with capsys.disabled():
        print(  # noqa: T201
            f"\n{connection.vendor}: {EXAMPLES} histories of up to {STEPS} steps,"
            f" {counter['steps']} deeds, {counter['refused']} of them refused"
        )
    assert counter["steps"] > EXAMPLES and counter["refused"]
