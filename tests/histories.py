"""A small notation for histories, told line by line through the services.

A history is text. Each line is one deed; each happens an hour after the one before, from
``tests.factories.START`` on, or at the hour given after ``@`` (``@30`` is thirty hours after the
start). Blank lines and what follows ``#`` are left out::

    C1: bottles PET 5kg, 3kg; bottles HDPE 200g     # C collection, P purchase, O opening count
    O1: heel HDPE 40g in extruder                   # a heel is in a machine
    R1 sort C1.1 4.9kg, C1.2 all -> clean bottles 7kg, caps HDPE 300g, ~residue 20g
    R2 shred on mill: R1.1 5kg -> flake 4.9kg, oversize 50g
    R3 dry R2.1 2kg -> dried flake 1990g, ~water 8g @52
    R4 extrude R3.1 1kg -> filament 900g spool, heel 60g
    R5 dispatch R4.1 all                            # what a stage requires is noted for you

    open R6 shred R1.1 1kg                          # an open run, drawn and given step by step
    R6 draws R1.1 1kg
    R6 gives flake 700g, fines 10g
    R6 loses ~dust 5g
    close R6 -> flake 300g

    count R7: R2.1 4kg, R2.2 0g
    correct R1 draw C1.1 4.8kg                      # or: correct R1 gave R1.1 6kg
    correct R1 loss residue 30g
    void R5
    hold R2.1                                       # hold R2.1 spreading
    release R2.1

``C1.2`` is the second bag of C1, ``R1.2`` the second output of R1 in the order given, and
``R4.heel`` the heel that R4 left. Masses are ``shared.units.parse_mass`` without the space. A
stage's machine is set up when it is first needed, and called by its kind unless ``on`` names it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Sum

from recycling.ledger.models import Account, Posting
from recycling.models import Composition, Hold, Lot, Machine, Origin, Run, Source
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import CountEntry
from recycling.records.lots.notes import HoldEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.runs.entries import CorrectionEntry, RunEntry
from recycling.services.lots import holds, lots_count, origin_record
from recycling.services.runs import corrections, run_close, run_open, void
from recycling.services.runs.run_record import run_record
from recycling.stages import stage
from shared.units import parse_mass
from tests import notation
from tests.factories import START, MachineFactory, SourceFactory, WorkshopFactory

KINDS = {"C": "collection", "P": "purchase", "O": "opening"}


class Told:
    """A history as far as it was told; names lots, runs and origins as the text does."""

    def __init__(self, actor: Actor):
        self.actor, self.hour = actor, -1.0
        self.codes: dict[str, str] = {}
        self.results: dict[str, Any] = {}

    def tell(self, text: str) -> Told:
        """Tell more lines; what a service refuses is raised here."""
        for raw in text.splitlines():
            words = raw.partition("#")[0].strip()
            if words:
                line = notation.Line(words, self.hour + 1)
                self.hour = line.hour
                self._deed(line.words)
        return self

    @property
    def now(self) -> datetime:
        """The time of the line that was told last."""
        return START + timedelta(hours=self.hour)

    def code(self, name: str) -> str:
        """Return the code behind a name; a name that is none is taken as the code itself."""
        return self.codes.get(name, name)

    def lot(self, name: str) -> Lot:
        """Fetch a lot by its name."""
        return Lot.objects.get(workshop_id=self.actor.workshop_id, code=self.code(name))

    def run(self, name: str) -> Run:
        """Fetch a run by its name."""
        return Run.objects.get(workshop_id=self.actor.workshop_id, code=self.code(name))

    def on_hand(self, name: str) -> int:
        """Return what the postings say is on hand of a lot, in mg."""
        lot_id = self.lot(name).pk
        assert Account.objects.get(pk=lot_id).balance_mg == posted(lot_id)
        return posted(lot_id)

    def border(self, account: str, polymer: str = "PET") -> int:
        """Return what the postings say crossed a border account, in mg."""
        found = Account.objects.filter(
            book_id=self.actor.workshop_id, kind="border", name=account, commodity=polymer
        ).first()
        return posted(found.pk) if found else 0

    def composition(self, name: str) -> dict[str, int]:
        """Return a lot's stored composition in mg by the names of origins; "" is traces."""
        names = {code: name for name, code in self.codes.items()}
        lot = self.lot(name)
        rows = Composition.objects.filter(lot=lot).select_related("origin")
        stored = {names[part.origin.code]: part.mass_mg for part in rows}
        return stored | ({"": lot.traces_mg} if lot.traces_mg else {})

    def posting(self, run: str, lot: str = "", loss: str = "") -> int:
        """Return the id of the first posting of a run on a lot or a loss account."""
        rows = Posting.objects.filter(entry__process_id=self.run(run).pk, corrects=None)
        wanted = (
            {"account_id": self.lot(lot).pk}
            if lot
            else {"account__kind": "border", "account__name": loss}
        )
        return rows.filter(**wanted).order_by("pk").values_list("pk", flat=True)[0]

    def correct(self, posting: int, mass: str, reason: str = "misread", flow: bool = False) -> Any:
        """Correct a figure; with `flow`, what took the lot whole follows."""
        mass_mg = 0 if mass.startswith("0") else parse_mass(mass)
        entry = CorrectionEntry(posting, mass_mg, reason, flow)
        return corrections.posting_correct(self.actor, entry)

    def _deed(self, words: str) -> None:
        verb, _, rest = words.partition(" ")
        told: dict[str, Callable[[str], None]] = {
            "open": self._open,
            "close": self._close,
            "count": self._count,
            "correct": self._correct,
            "void": lambda name: void.run_void(self.actor, self.code(name), "a mistake"),
            "hold": self._hold,
            "release": self._release,
        }
        if verb in told:
            told[verb](rest.strip())
        elif verb[0] in KINDS and verb.endswith(":"):
            self._receive(verb[:-1], rest)
        elif rest.partition(" ")[0] in {"draws", "gives", "loses"}:
            self._step(verb, *rest.split(" ", 1))
        else:
            self._keep(verb, run_record(self.actor, self._run(rest, self.now)))

    def _keep(self, name: str, result: Any) -> None:
        self.codes[name], self.results[name] = result.code, result
        if name[0] in KINDS:
            self.codes[f"{name}.run"] = result.run
        made = sum(1 for key in self.codes if re.fullmatch(rf"{name}\.\d+", key))
        for lot in result.lots:
            if lot.role == "heel" and name[0] == "R":
                self.codes[f"{name}.heel"] = lot.code
                continue
            made += 1
            self.codes[f"{name}.{made}"] = lot.code

    def _receive(self, name: str, text: str) -> None:
        bags: list[BagEntry] = []
        for group in text.split(";"):
            form, rest = notation.form(group.strip())
            polymer, _, masses = rest.partition(" ")
            masses, _, machine = masses.partition(" in ")
            if machine:
                self._machine(machine.strip(), "extruder")
            bags += [
                BagEntry(parse_mass(mass.strip()), form, polymer, machine=machine.strip())
                for mass in masses.split(",")
            ]
        source = ""
        if name[0] == "C":
            source = f"Source of {name}"
            if not Source.objects.filter(workshop_id=self.actor.workshop_id, name=source).exists():
                SourceFactory(actor=self.actor, name=source)
        entry = OriginEntry(KINDS[name[0]], self.now, tuple(bags), source=source)
        self._keep(name, origin_record.origin_record(self.actor, entry))

    def _run(self, text: str, ended_at: datetime | None) -> RunEntry:
        left, _, right = text.partition("->")
        key, _, drawn = left.strip().partition(" ")
        declared = stage(key)
        assert declared is not None, f"there is no stage {key}"
        machine, colon, rest = drawn.partition(":")
        named = machine.removeprefix("on ").strip() if colon else ""
        outputs, losses, heel = notation.gives(right)
        return RunEntry(
            key,
            started_at=self.now,
            ended_at=ended_at,
            machine=self._machine(named or declared.machine, declared.machine),
            inputs=tuple(notation.draws(rest if colon else drawn, self.code)),
            outputs=tuple(outputs),
            losses=tuple(losses),
            heel=heel,
            checks=notation.required_checks(declared) if ended_at else (),
        )

    def _machine(self, name: str, kind: str) -> str:
        rows = Machine.objects.filter(workshop_id=self.actor.workshop_id, name=name)
        if name and not rows.exists():
            MachineFactory(actor=self.actor, name=name, kind=kind)
        return name

    def _open(self, text: str) -> None:
        name, _, rest = text.partition(" ")
        self._keep(name, run_open.run_open(self.actor, self._run(rest, None)))

    def _step(self, name: str, verb: str, text: str) -> None:
        code = self.code(name)
        if verb == "draws":
            for draw in notation.draws(text, self.code):
                run_open.run_draw(self.actor, code, [draw], self.now)
            return
        outputs, losses, _ = notation.gives(text)
        if outputs:
            self._keep(name, run_open.run_output_add(self.actor, code, outputs, self.now))
        if losses:
            run_open.run_loss_add(self.actor, code, losses, self.now)

    def _close(self, text: str) -> None:
        name, _, given = text.partition("->")
        outputs, losses, heel = notation.gives(given)
        declared = stage(self.run(name.strip()).stage)
        assert declared is not None
        self._keep(
            name.strip(),
            run_close.run_close(
                self.actor,
                self.code(name.strip()),
                self.now,
                outputs,
                tuple(losses),
                heel,
                notation.required_checks(declared),
            ),
        )

    def _count(self, text: str) -> None:
        name, _, counted = text.partition(":")
        counts = []
        for one in counted.split(","):
            lot, mass = one.strip().rsplit(" ", 1)
            counts.append(
                CountEntry(self.code(lot), 0 if mass.startswith("0") else parse_mass(mass))
            )
        entry = RunEntry("count", self.now, self.now, counts=tuple(counts))
        self._keep(name, lots_count.lots_count(self.actor, entry))

    def _correct(self, text: str) -> None:
        run, what, where, mass = text.split(" ")
        wanted = {"loss": where} if what == "loss" else {"lot": where}
        self.correct(self.posting(run, **wanted), mass)

    def _hold(self, text: str) -> None:
        name, _, spreading = text.partition(" ")
        holds.hold_place(self.actor, HoldEntry(self.code(name), "looks odd", bool(spreading)))

    def _release(self, name: str) -> None:
        for hold in Hold.objects.filter(lot__code=self.code(name), released_at=None):
            holds.hold_release(self.actor, hold.pk, "looked at, fine")


def tell(text: str, actor: Actor | None = None) -> Told:
    """Tell a history in a new workshop, or in that of an actor."""
    return Told(actor or WorkshopFactory()).tell(text)


def posted(account_id: int) -> int:
    """Add up the postings of an account, in mg."""
    return Posting.objects.filter(account_id=account_id).aggregate(sum=Sum("mass_mg"))["sum"] or 0


def origins_named(told: Told) -> dict[int, str]:
    """Map the ids of origins to their names in the text."""
    names = {code: name for name, code in told.codes.items()}
    rows = Origin.objects.filter(workshop_id=told.actor.workshop_id)
    return {origin.pk: names[origin.code] for origin in rows}
