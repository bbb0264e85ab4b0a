"""Plans to go from one polymer to the next in a machine, and what they took."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.calc.balance.coverage import student_factor
from recycling.records.process.plan_steps import MissingRow, NeedRow, StepRow


@dataclass(frozen=True)
class ChangeoverEntry:
    """What a plan is asked for.

    Attributes
    ----------
    machine : int
        Id of the machine.
    after : str
        The polymer that comes next.
    start_c, target_c : float or None
        Set temperature now and for the next polymer; None takes the middle of the windows.
    residue_percent : float or None
        Residue that may be left; None takes the workshop's.
    at : datetime or None
        When the change is or was: the plan goes from what was in the machine then; None for now.
    """

    machine: int
    after: str
    start_c: float | None = None
    target_c: float | None = None
    residue_percent: float | None = None
    at: datetime | None = None


@dataclass(frozen=True)
class UsedEntry:
    """What a changeover took.

    Attributes
    ----------
    changeover : int
        Id of the plan.
    purge_used_mg, flush_used_mg : int or None
        Mass of purge compound and of the next polymer until the output was clean, in mg.
    residue_percent : float or None
        Residue that was left, where it was measured; None for the one that was planned.
    seen : str
        What the operator saw.
    """

    changeover: int
    purge_used_mg: int | None = None
    flush_used_mg: int | None = None
    residue_percent: float | None = None
    seen: str = ""


@dataclass(frozen=True)
class ChangeoverPlanned:
    """A plan, computed from what is in the machine.

    Attributes
    ----------
    machine : int
        Id of the machine.
    machine_name, heel, before, after : str
        Its name, the lot in it, its polymer, and what comes next.
    possible : bool
        Whether there is a way.
    purge : str
        Names of the purge compounds between; empty where the two can follow each other.
    steps : tuple of StepRow
        In the order of work.
    purge_g, flush_g : float
        Mass of compound, and of the next polymer.
    minutes, margin_k : float or None
        Time of all steps, and the smallest margin of all; None in older plans.
    needs : tuple of NeedRow
        Everything that is fed, against stock when the plan was made.
    residue, next_residue : float
        Share that each washing may leave, and the mean share in the next kilogram.
    warnings : tuple of str
        What to look out for.
    start_c, target_c, holdup_g : float
        What it rests on.
    holdup_source, windows_source : str
        Where hold-up and windows come from.
    at : datetime or None
        The moment whose heel it goes from; None for the moment it was made.
    """

    machine: int
    machine_name: str
    heel: str
    before: str
    after: str
    possible: bool
    purge: str
    steps: tuple[StepRow, ...]
    purge_g: float
    flush_g: float
    residue: float
    next_residue: float
    warnings: tuple[str, ...]
    start_c: float
    target_c: float
    holdup_g: float
    holdup_source: str
    windows_source: str
    at: datetime | None = None
    minutes: float | None = None
    margin_k: float | None = None
    needs: tuple[NeedRow, ...] = ()


@dataclass(frozen=True)
class ChangeoverRow:
    """A plan that was kept, with what it took.

    Attributes
    ----------
    id, machine : int
        Its id and that of its machine.
    machine_name, before, after, purge, seen, by : str
        On what, from what to what, over what, what was seen, and who planned it.
    purge_g, flush_g, residue : float
        As planned.
    purge_used_mg, flush_used_mg : int or None
        As used.
    residue_seen : float or None
        Residue that was left.
    planned_at, used_at : datetime or None
        When.
    plan : ChangeoverPlanned
        The plan as it was kept.
    """

    id: int
    machine: int
    machine_name: str
    before: str
    after: str
    purge: str
    seen: str
    by: str
    purge_g: float
    flush_g: float
    residue: float
    purge_used_mg: int | None
    flush_used_mg: int | None
    residue_seen: float | None
    planned_at: datetime
    used_at: datetime | None
    plan: ChangeoverPlanned


@dataclass(frozen=True)
class HoldupRefit:
    """Hold-up as the changeovers that were run say it.

    Attributes
    ----------
    holdup_g : float
        The hold-up.
    u_holdup_g : float or None
        Its standard uncertainty; None for one use.
    uses : int
        Washings it rests on.
    """

    holdup_g: float
    u_holdup_g: float | None
    uses: int

    @property
    def half_g(self) -> float | None:
        """Half-interval that covers 95 % of its truths, g: Student's for one degree fewer."""
        return None if self.u_holdup_g is None else student_factor(self.uses - 1) * self.u_holdup_g


@dataclass(frozen=True)
class ChangeoverDesk:
    """What the planning page of a machine shows.

    Attributes
    ----------
    machine : int
        Id of the machine.
    machine_name, heel, before : str
        Its name, the lot in it, and its polymer; empty when it is empty.
    heel_mg : int
        How much is in it.
    next_polymers : tuple of str
        Polymers with a window.
    kept : tuple of ChangeoverRow
        Earlier plans, newest first.
    refit : HoldupRefit or None
        What they say of the hold-up.
    last_c : float or None
        Highest zone that was set last.
    warnings : tuple of str
        What the heat does to what is in the barrel.
    held_before : bool
        Whether anything was in it ever, so that a plan of an earlier moment can be made.
    missing : tuple of MissingRow
        What a plan lacks, each with where to enter it.
    """

    machine: int
    machine_name: str
    heel: str
    before: str
    heel_mg: int
    next_polymers: tuple[str, ...]
    kept: tuple[ChangeoverRow, ...]
    refit: HoldupRefit | None
    last_c: float | None
    warnings: tuple[str, ...]
    held_before: bool
    missing: tuple[MissingRow, ...] = ()


@dataclass(frozen=True)
class ShutdownAdvice:
    """What is proposed before an extrusion run is closed.

    Attributes
    ----------
    machine : int
        Id of the machine.
    polymer, source : str
        What would stay in the barrel, and where the proposal comes from.
    purge_g : float
        Mass of purge compound that is proposed.
    purge_drawn_mg : int
        Purge compound that the run drew.
    """

    machine: int
    polymer: str
    source: str
    purge_g: float
    purge_drawn_mg: int

    @property
    def done(self) -> bool:
        """Whether the run drew as much already."""
        return self.purge_drawn_mg >= 1000 * self.purge_g
