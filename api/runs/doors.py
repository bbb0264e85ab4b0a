"""How a run is shown to programs after a deed: as on its page, with the lots made just now.

Runs: recorded whole, or opened, fed, logged and closed while the work goes on.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

from api.protocol.asking import PAGING, STAGE, TEXT, WITHIN, choice, text
from api.protocol.bodies import (
    OPEN,
    CheckBody,
    CloseBody,
    DrawBody,
    LossBody,
    ModelBody,
    OutputBody,
    RunBody,
    SettingBody,
)
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.energy.runs import run_and_energy
from recycling.queries.runs.composition_models import models_compared
from recycling.queries.runs.runs import run_page, runs_page
from recycling.records.actors import Actor
from recycling.records.balance.doubts import EntryDoubt
from recycling.records.balance.known_masses import ModelsCompared
from recycling.records.energy.figures import RunEnergyRecord
from recycling.records.paging import Page
from recycling.records.recorded import LotMade, ModelChosen, RunRecorded
from recycling.records.runs.changes import RunChange
from recycling.records.runs.runs import RunRecord, RunRow
from recycling.services.lots.lots_count import lots_count
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
