"""What stands beside a run: its energy, its machine."""

from __future__ import annotations

from recycling.queries.energy.machines import parts_of
from recycling.queries.energy.runs import energies_of
from recycling.queries.energy.work import row_of
from recycling.queries.runs.runs import run_of
from recycling.records.actors import Actor
from recycling.records.energy.run_panel import RunBeside


def run_beside(actor: Actor, code: str) -> RunBeside:
    """Give what stands beside a run's own facts.

    Raises
    ------
    Unknown
        When there is no such run.
    """
    run = run_of(actor, code)
    is_open, machine, row = run.state == "open", run.machine, row_of(run)
    return RunBeside(
        code=run.code,
        state=run.state,
        machine=machine.pk if machine else None,
        machine_name=machine.name if machine else "",
        energy=energies_of(actor.workshop_id, [row]).records[row.pk] if row else None,
        parts=parts_of(machine.pk) if machine and is_open else (),
    )
