"""What is said after something was recorded: codes, and what does not add up.

What is said after a correction.
What is said after a hold was placed or released.
What is said when a key was given out.
What happens to entries that waited on a device.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from recycling.records.balance.doubts import EntryDoubt
from recycling.records.lots.deviations import DeviationRow


class MadeLot(Protocol):
    """A lot as a run made it."""

    code: str
    form: str
    polymer: str
    role: str
    made_mg: int


@dataclass(frozen=True)
class LotMade:
    """A lot that was just made.

    Attributes
    ----------
    code, form, polymer, role : str
        Its code, what it is, and its role in the run.
    mass_mg : int
        Its mass in mg.
    """

    code: str
    form: str
    polymer: str
    role: str
    mass_mg: int


@dataclass(frozen=True)
class RunRecorded:
    """A run that was just recorded.

    Attributes
    ----------
    code, stage : str
        The run's code and its stage.
    inputs_mg : int
        Mass drawn in all, in mg.
    lots : tuple of LotMade
        What it gave.
    unaccounted_mg : int or None
        Inputs less outputs and losses, in mg; below zero for a gain, None while it is open.
    doubts : tuple of EntryDoubt
        Figures that are likely slips, what is doubtful about its weighings, which dried lot lay
        open for too long before it was fed to the melt, and which check or limit of its plastic
        was not kept.
    deviations : tuple of DeviationRow
        What the run did otherwise than usual.
    undo_until : datetime or None
        Until when whoever recorded it can undo it without a reason; of a run that goes on, what
        was recorded last. None where nothing can be undone.
    """

    code: str
    stage: str
    inputs_mg: int
    lots: tuple[LotMade, ...]
    unaccounted_mg: int | None
    doubts: tuple[EntryDoubt, ...] = ()
    deviations: tuple[DeviationRow, ...] = ()
    undo_until: datetime | None = None


@dataclass(frozen=True)
class OriginRecorded:
    """A collection, purchase or opening count that was just recorded.

    Attributes
    ----------
    code, kind, run : str
        Its code, which of the three it is, and the code of its receive run.
    lots : tuple of LotMade
        A lot for each bag.
    doubts : tuple of EntryDoubt
        Figures that are likely slips, and what is doubtful about its weighings.
    undo_until : datetime or None
        Until when whoever recorded it can undo it without a reason.
    """

    code: str
    kind: str
    run: str
    lots: tuple[LotMade, ...]
    doubts: tuple[EntryDoubt, ...] = ()
    undo_until: datetime | None = None


@dataclass(frozen=True)
class ModelChosen:
    """A run whose origins are computed by another model from now on.

    Attributes
    ----------
    run, model : str
        The run's code, and "well mixed" or "feed order".
    waiting : int
        Runs whose figures follow in a background job; 0 when all is done.
    """

    run: str
    model: str
    waiting: int


def lots_made(lots: Iterable[MadeLot]) -> tuple[LotMade, ...]:
    """Show lots as they were made."""
    return tuple(LotMade(lot.code, lot.form, lot.polymer, lot.role, lot.made_mg) for lot in lots)


def recorded(
    code: str,
    stage: str,
    inputs_mg: int,
    lots: Iterable[MadeLot],
    unaccounted_mg: int | None,
    doubts: tuple[EntryDoubt, ...] = (),
    deviations: tuple[DeviationRow, ...] = (),
    undo_until: datetime | None = None,
) -> RunRecorded:
    """Show a run as it was recorded."""
    made = lots_made(lots)
    return RunRecorded(code, stage, inputs_mg, made, unaccounted_mg, doubts, deviations, undo_until)


@dataclass(frozen=True)
class FigureChange:
    """A figure that a correction or a void made another.

    Attributes
    ----------
    run, stage : str
        Code and stage of its run; empty for what is on hand of a lot.
    lot, form : str
        Code and form of the lot; for other figures no code, and the polymer.
    figure : str
        "drawn", "given", "counted", "on hand", "process" for work in process, or what crossed the
        border: "received", "dispatched", "discarded", a loss or "unaccounted".
    before_mg, after_mg : int
        What it was and is, in mg.
    """

    run: str
    stage: str
    lot: str
    form: str
    figure: str
    before_mg: int
    after_mg: int


@dataclass(frozen=True)
class Corrected:
    """A correction that was posted.

    Attributes
    ----------
    run : str
        Code of the run.
    posting : int or None
        Id of the posting that was corrected; None for a whole run.
    before_mg, after_mg : int
        What the figure was and is, in mg.
    delta_mg : int
        What was posted on its account, in mg.
    waiting_runs : int
        Runs whose compositions a background job is still bringing up to date.
    changes : tuple of FigureChange
        Every figure that is another now, and what is on hand of each lot it touches.
    voided : tuple of str
        Codes of the runs that were voided.
    """

    run: str
    posting: int | None
    before_mg: int
    after_mg: int
    delta_mg: int
    waiting_runs: int
    changes: tuple[FigureChange, ...] = ()
    voided: tuple[str, ...] = ()


@dataclass(frozen=True)
class HoldPlaced:
    """Holds that were placed or released.

    Attributes
    ----------
    holds : tuple of int
        Their ids.
    target : str
        Code of the lot or collection.
    with_descendants : bool
        Whether all that descends from it is meant too.
    """

    holds: tuple[int, ...]
    target: str
    with_descendants: bool


@dataclass(frozen=True)
class KeyIssued:
    """A key that was given out.

    Attributes
    ----------
    key : int
        Its id.
    secret : str
        What to send; shown this once.
    scope : str
        "read", "record" or "manage".
    expires_at : datetime
        Until when it is valid.
    """

    key: int
    secret: str = field(repr=False)
    scope: str
    expires_at: datetime


@dataclass(frozen=True)
class DiscardEntry:
    """An entry that waited on a device and is thrown away there.

    Attributes
    ----------
    what : str
        The entry in plain words, a line for each thing that was filled in.
    reason : str
        Why it is thrown away.
    key : str
        The idempotency key under which it may have been sent before.
    made_at : str
        When it was made, as the device noted it.
    """

    what: str
    reason: str
    key: str = ""
    made_at: str = ""
