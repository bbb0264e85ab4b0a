"""How a run is shown to programs after a deed: as on its page, with the lots made just now.

Runs: recorded whole, or opened, fed, logged and closed while the work goes on.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

from django.urls import path

from api.protocol.asking import PAGING, STAGE, TEXT, WITHIN, choice, text
from api.protocol.bodies import (
    OPEN,
    CheckBody,
    CloseBody,
    CorrectionBody,
    DrawBody,
    LossBody,
    ModelBody,
    NothingBody,
    OutputBody,
    RunBody,
    SettingBody,
    UndoBody,
    VoidBody,
)
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.energy.runs import run_and_energy
from recycling.queries.runs.composition_models import models_compared
from recycling.queries.runs.runs import run_page, runs_page
from recycling.records.actors import Actor
from recycling.records.balance.doubts import EntryDoubt
from recycling.records.balance.known_masses import ModelsCompared
from recycling.records.energy.figures import RunEnergyRecord
from recycling.records.lots.changes import FactsUndone
from recycling.records.paging import Page
from recycling.records.recorded import Corrected, LotMade, ModelChosen, RunRecorded
from recycling.records.runs.changes import RunChange
from recycling.records.runs.entries import CorrectionEntry
from recycling.records.runs.runs import RunRecord, RunRow
from recycling.services.lots.lots_count import lots_count
from recycling.services.rehearsal import rehearse
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.facts import run_change
from recycling.services.runs.run_close import run_close
from recycling.services.runs.run_model import run_model_choose
from recycling.services.runs.run_open import (
    run_draw,
    run_log,
    run_loss_add,
    run_open,
    run_output_add,
)
from recycling.services.runs.run_record import run_record
from recycling.services.runs.undo import correction_undo, run_undo
from recycling.services.runs.undo_facts import facts_undo
from recycling.services.runs.void import run_void
from recycling.stages import stage


@dataclass(frozen=True)
class RunShown(RunRecord):
    """All there is to know of a run.

    Attributes
    ----------
    energy : RunEnergyRecord or None
        Its energy and where that is from; None while it is open, for a void run, and for one on
        no machine.
    """

    energy: RunEnergyRecord | None


@dataclass(frozen=True)
class RunDone(RunRecord):
    """A run as it is after something was recorded of it.

    Attributes
    ----------
    lots : tuple of LotMade
        The lots that were made just now.
    doubts : tuple of EntryDoubt
        What should be looked at again of what was just recorded.
    undo_until : datetime or None
        Until when whoever recorded it can undo it without a reason; of a run that goes on, what
        was recorded last. None where nothing can be undone.
    """

    lots: tuple[LotMade, ...]
    doubts: tuple[EntryDoubt, ...] = ()
    undo_until: datetime | None = None


def run_shown(actor: Actor, code: str) -> RunShown:
    """Show a run with its energy once it is closed, so that an open one has a steady tag."""
    record, energy = run_and_energy(actor, code)
    values = {field.name: getattr(record, field.name) for field in fields(record)}
    return RunShown(**values, energy=energy)


def run_done(actor: Actor, done: RunRecorded) -> RunDone:
    """Show a run as it is after a deed, in the deed's own transaction."""
    record = run_page(actor, done.code)
    shown = {field.name: getattr(record, field.name) for field in fields(record)}
    return RunDone(**shown, lots=done.lots, doubts=done.doubts, undo_until=done.undo_until)


STATE = choice("state", "Whether the run goes on.", ("open", "closed", "void"))
MACHINE = text("machine", "Name of the machine.")


def deed_of(body: RunBody) -> Any:
    """Choose what records a run: by what its stage declares, and by whether it goes on."""
    declared = stage(body.stage)
    if body.state == OPEN:
        return run_open
    return lots_count if declared is not None and declared.counts else run_record


def _times(bodies: tuple[DrawBody | OutputBody | LossBody, ...]) -> list[datetime | None]:
    return [body.at for body in bodies]


class RunsApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(RunRow, STAGE, STATE, MACHINE, TEXT, *WITHIN, *PAGING)
    def get(self, actor: Actor, **asked: Any) -> Page[RunRow]:
        """List runs, newest first."""
        return runs_page(actor, **asked)

    @records(RunBody, RunDone)
    def post(self, actor: Actor, body: RunBody) -> RunDone:
        """Record a whole run of any stage, a stock count, or with state "open" a run's start."""
        return run_done(actor, deed_of(body)(actor, body))


class RunApi(Door):
    http_method_names = ["get", "head", "patch"]
    needs = {"GET": "read", "PATCH": "correct"}

    @shows(RunShown, rows_of=lambda run: run.postings, tagged=True)
    def get(self, actor: Actor, code: str) -> RunShown:
        """Show all there is to know of a run; as CSV, its postings."""
        return run_shown(actor, code)

    @records(RunChange, RunShown, 200, guard=run_shown)
    def patch(self, actor: Actor, change: RunChange, code: str) -> RunShown:
        """Put right who worked, when it began, what was noted and set, with a reason."""
        return run_shown(actor, run_change(actor, code, change))


class RunDrawsApi(Door):
    needs = {"POST": "record"}

    @records(DrawBody, RunDone, guard=run_shown, several="/inputs")
    def post(self, actor: Actor, bodies: tuple[DrawBody, ...], code: str) -> RunDone:
        """Draw from a lot into an open run; a list of draws is taken whole or not at all."""
        return run_done(actor, run_draw(actor, code, bodies, _times(bodies)))


class RunOutputsApi(Door):
    needs = {"POST": "record"}

    @records(OutputBody, RunDone, guard=run_shown, several="/outputs")
    def post(self, actor: Actor, bodies: tuple[OutputBody, ...], code: str) -> RunDone:
        """Add what an open run gave, one or a list; each becomes a lot."""
        return run_done(actor, run_output_add(actor, code, bodies, _times(bodies)))


class RunLossesApi(Door):
    needs = {"POST": "record"}

    @records(LossBody, RunDone, guard=run_shown, several="/losses")
    def post(self, actor: Actor, bodies: tuple[LossBody, ...], code: str) -> RunDone:
        """Post a measured or estimated loss of an open run, or a list of them."""
        return run_done(actor, run_loss_add(actor, code, bodies, _times(bodies)))


class RunSettingsApi(Door):
    needs = {"POST": "record"}

    @records(SettingBody, RunDone, guard=run_shown, several="/settings")
    def post(self, actor: Actor, bodies: tuple[SettingBody, ...], code: str) -> RunDone:
        """Log a setting that was changed during an open run, or a list of them."""
        return run_done(actor, run_log(actor, code, settings=bodies))


class RunChecksApi(Door):
    needs = {"POST": "record"}

    @records(CheckBody, RunDone, guard=run_shown, several="/checks")
    def post(self, actor: Actor, bodies: tuple[CheckBody, ...], code: str) -> RunDone:
        """Note a check of an open run, or a list of them."""
        return run_done(actor, run_log(actor, code, checks=bodies))


class RunCloseApi(Door):
    needs = {"POST": "record"}

    @records(CloseBody, RunDone, status=200, guard=run_shown)
    def post(self, actor: Actor, body: CloseBody, code: str) -> RunDone:
        """Close an open run with its last outputs, losses, checks and heel."""
        closed = run_close(
            actor, code, body.ended_at, body.outputs, body.losses, body.heel, body.checks
        )
        return run_done(actor, closed)


class RunVoidApi(Door):
    needs = {"POST": "void"}

    @records(VoidBody, Corrected, status=200, guard=run_shown)
    def post(self, actor: Actor, body: VoidBody, code: str) -> Corrected:
        """Take a run back by opposite postings, alone or with what followed."""
        return run_void(actor, code, body.reason, body.with_descendants)


class RunVoidTrialApi(Door):
    needs = {"POST": "void"}

    @records(VoidBody, Corrected, status=200)
    def post(self, actor: Actor, body: VoidBody, code: str) -> Corrected:
        """Say what voiding a run would change, and change nothing."""
        return rehearse(lambda: run_void(actor, code, body.reason, body.with_descendants))


class RunUndoApi(Door):
    needs = {"POST": "record"}

    @records(UndoBody, Corrected, status=200)
    def post(self, actor: Actor, body: UndoBody, code: str) -> Corrected:
        """Take back a run just recorded whole, or what was recorded last of one that goes on."""
        return run_undo(actor, code, body.undo_until)


class PostingCorrectionsApi(Door):
    needs = {"POST": "correct"}

    @records(CorrectionBody, Corrected)
    def post(self, actor: Actor, body: CorrectionBody, posting: int) -> Corrected:
        """Post the difference between a typed figure and what it should have been."""
        return posting_correct(actor, CorrectionEntry(posting, **vars(body)))


class PostingCorrectionsTrialApi(Door):
    needs = {"POST": "correct"}

    @records(CorrectionBody, Corrected, status=200)
    def post(self, actor: Actor, body: CorrectionBody, posting: int) -> Corrected:
        """Say what a correction would change, and change nothing."""
        return rehearse(lambda: posting_correct(actor, CorrectionEntry(posting, **vars(body))))


class PostingCorrectionsUndoApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, Corrected, status=200)
    def post(self, actor: Actor, body: NothingBody, posting: int) -> Corrected:
        """Take back the last correction of a figure, by whoever made it just now."""
        return correction_undo(actor, posting)


class FactsUndoApi(Door):
    needs = {"POST": "correct"}

    @records(NothingBody, FactsUndone, status=200)
    def post(self, actor: Actor, body: NothingBody, code: str) -> FactsUndone:
        """Put back what was changed last of a lot, a run or a collection, by whoever did it."""
        return facts_undo(actor, code)


class RunModelApi(Door):
    needs = {"GET": "read", "POST": "correct"}

    @shows(ModelsCompared, rows_of=lambda found: found.lots)
    def get(self, actor: Actor, code: str) -> ModelsCompared:
        """Compose what a run gave well mixed and in feed order, side by side."""
        return models_compared(actor, code)

    @records(ModelBody, ModelChosen, status=200)
    def post(self, actor: Actor, body: ModelBody, code: str) -> ModelChosen:
        """Choose how the origins of what a run gave are computed."""
        return run_model_choose(actor, code, body.composition_model, body.reason)


urlpatterns = [
    path("runs/", RunsApi.as_view()),
    path("runs/<str:code>/", RunApi.as_view()),
    path("runs/<str:code>/draws/", RunDrawsApi.as_view()),
    path("runs/<str:code>/outputs/", RunOutputsApi.as_view()),
    path("runs/<str:code>/losses/", RunLossesApi.as_view()),
    path("runs/<str:code>/settings/", RunSettingsApi.as_view()),
    path("runs/<str:code>/checks/", RunChecksApi.as_view()),
    path("runs/<str:code>/close/", RunCloseApi.as_view()),
    path("runs/<str:code>/void/", RunVoidApi.as_view()),
    path("runs/<str:code>/void/trial/", RunVoidTrialApi.as_view()),
    path("runs/<str:code>/undo/", RunUndoApi.as_view()),
    path("changes/<str:code>/undo/", FactsUndoApi.as_view()),
    path("postings/<int:posting>/corrections/", PostingCorrectionsApi.as_view()),
    path("runs/<str:code>/model/", RunModelApi.as_view()),
    path("postings/<int:posting>/corrections/trial/", PostingCorrectionsTrialApi.as_view()),
    path("postings/<int:posting>/corrections/undo/", PostingCorrectionsUndoApi.as_view()),
]
