"""How a run is shown to programs after a deed: as on its page, with the lots made just now."""

from __future__ import annotations

from dataclasses import dataclass, fields

from recycling.queries.energy_runs import run_and_energy
from recycling.queries.runs import run_page
from recycling.records.actors import Actor
from recycling.records.energy import RunEnergyRecord
from recycling.records.recorded import LotMade, RunRecorded
from recycling.records.runs import RunRecord


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
    """

    lots: tuple[LotMade, ...]


def run_shown(actor: Actor, code: str) -> RunShown:
    """Show a run with its energy once it is closed, so that an open one has a steady tag."""
    record, energy = run_and_energy(actor, code)
    values = {field.name: getattr(record, field.name) for field in fields(record)}
    return RunShown(**values, energy=energy)


def run_done(actor: Actor, done: RunRecorded) -> RunDone:
    """Show a run as it is after a deed, in the deed's own transaction."""
    record = run_page(actor, done.code)
    shown = {field.name: getattr(record, field.name) for field in fields(record)}
    return RunDone(**shown, lots=done.lots)
