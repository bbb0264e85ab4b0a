"""Finding machines, their parts and what was logged of them, by id."""

from __future__ import annotations

import math

from recycling.models import Machine, MachinePart, MachinePhase, MeterReading, PartTime
from shared.errors import Collected, Unknown
from shared.said import say

LOGGED: dict[str, type[PartTime] | type[MachinePhase] | type[MeterReading]] = {
    "time": PartTime,
    "phase": MachinePhase,
    "reading": MeterReading,
}
_OWNER = {"time": "part__machine", "phase": "machine", "reading": "machine"}


def machine_by_id(workshop_id: int, machine_id: int) -> Machine:
    """Fetch a machine of the workshop, or say that there is none."""
    machine = Machine.objects.filter(workshop_id=workshop_id, pk=machine_id).first()
    if machine is None:
        raise Unknown.because("machine-unknown", "There is no such machine in this workshop.")
    return machine


def part_by_id(workshop_id: int, part_id: int) -> MachinePart:
    """Fetch a part of a machine of the workshop, or say that there is none."""
    parts = MachinePart.objects.select_related("machine")
    part = parts.filter(machine__workshop_id=workshop_id, pk=part_id).first()
    if part is None:
        raise Unknown.because("part-unknown", "There is no such part in this workshop.")
    return part


def logged_by_id(
    workshop_id: int, kind: str, logged_id: int
) -> PartTime | MachinePhase | MeterReading:
    """Fetch a logged time, phase or reading that was not taken back."""
    if kind in LOGGED:
        rows = LOGGED[kind].objects.filter(pk=logged_id, taken_back_at=None)
        found = rows.filter(**{f"{_OWNER[kind]}__workshop_id": workshop_id}).first()
        if found is not None:
            return found
    raise Unknown.because("logged-unknown", "There is nothing like this to take back.")


def check_number(
    value: float, low: float, high: float, pointer: str, unit: str, found: Collected
) -> None:
    """Note a problem when a number is not finite or out of its bounds."""
    if not (math.isfinite(value) and low <= value <= high):
        bounds = {"low": low, "high": high, "unit": f" {unit}" if unit else ""}
        found.add("number-out-of-bounds", say("From {low:g} to {high:g}{unit}.", **bounds), pointer)


def check_needed(text: str, pointer: str, what: str, found: Collected) -> None:
    """Note a problem when a text that is needed is empty."""
    if not text.strip():
        found.add("text-missing", say("Give {what}.", what=what), pointer)
