"""What stands beside a run on its page."""

from __future__ import annotations

from dataclasses import dataclass

from recycling.records.energy.figures import RunEnergyRecord
from recycling.records.energy.machines import PartRow


@dataclass(frozen=True)
class RunBeside:
    """What stands beside a run.

    Attributes
    ----------
    code, state : str
        The run, and whether it is open.
    machine : int or None
        Id of its machine.
    machine_name : str
        Its name.
    energy : RunEnergyRecord or None
        Its energy; None without a machine.
    parts : tuple of PartRow
        While it is open: the machine's parts, to be switched by a tap.
    """

    code: str
    state: str
    machine: int | None
    machine_name: str
    energy: RunEnergyRecord | None
    parts: tuple[PartRow, ...]
