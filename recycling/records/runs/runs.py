"""Runs as people and programs see them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.balance.closures import RunClosure
from recycling.records.balance.covered import Covered
from recycling.records.balance.known_masses import KnownMass
from recycling.records.lots.changes import ChangeRow
from recycling.records.lots.deviations import DeviationRow
from recycling.records.lots.lots import PostingRow


@dataclass(frozen=True)
class RunRow:
    """A run in a list.

    Attributes
    ----------
    code, stage, state, polymer, machine : str
        Its code, stage, whether it is open, closed or void, its polymer and its machine.
    started_at : datetime
        When it began.
    ended_at : datetime or None
        When it ended.
    inputs_mg, outputs_mg, product_mg, losses_mg : int
        Mass drawn, given in all, given as product, and lost as measured, in mg.
    unaccounted_mg : int or None
        What closes it, in mg; below zero for a gain, None while it is open.
    u_unaccounted_mg : float or None
        Standard uncertainty of that, from its weighings, in mg; None where nothing closes.
    closes : str
        "closed within weighing", "usual", "to look at" or "open"; empty where nothing closes.
    """

    code: str
    stage: str
    state: str
    polymer: str
    machine: str
    started_at: datetime
    ended_at: datetime | None
    inputs_mg: int
    outputs_mg: int
    product_mg: int
    losses_mg: int
    unaccounted_mg: int | None
    u_unaccounted_mg: float | None = None
    closes: str = ""


@dataclass(frozen=True)
class RunInput:
    """What a run drew from a lot.

    Attributes
    ----------
    lot, form, polymer : str
        The lot's code and what it is.
    mass_mg : int
        Mass in mg, corrections included.
    """

    lot: str
    form: str
    polymer: str
    mass_mg: int


@dataclass(frozen=True)
class RunOutput:
    """A lot that a run gave.

    Attributes
    ----------
    lot, form, polymer, colour, role : str
        The lot's code, what it is, and its role.
    mass_mg, on_hand_mg : int
        Mass as made, corrections included, and what is on hand now, in mg.
    spool : bool
        Whether it is a spool.
    """

    lot: str
    form: str
    polymer: str
    colour: str
    role: str
    mass_mg: int
    on_hand_mg: int
    spool: bool


@dataclass(frozen=True)
class LossLine:
    """What a run lost to an account, or sent over the border.

    Attributes
    ----------
    account, polymer, how : str
        Which account, of which polymer, and how it was measured or estimated.
    mass_mg : int
        Mass in mg, corrections included.
    """

    account: str
    polymer: str
    mass_mg: int
    how: str = ""


@dataclass(frozen=True)
class Noted:
    """A check or a setting.

    Attributes
    ----------
    key, label, value, unit, seen, by : str
        What was noted, its value, what was seen after a change, and who noted it.
    within : bool or None
        Whether a check is within its limit; None where it has none.
    happened_at : datetime
        When.
    noted : int
        Its number, by which it is put right.
    """

    key: str
    label: str
    value: str
    unit: str
    seen: str
    by: str
    within: bool | None
    happened_at: datetime
    noted: int


@dataclass(frozen=True)
class Fed:
    """A refill.

    Attributes
    ----------
    lot : str
        The lot's code.
    mass_mg : int
        Mass in mg.
    happened_at : datetime
        When.
    fed : int
        Its number, by which it is put right.
    """

    lot: str
    mass_mg: int
    happened_at: datetime
    fed: int


@dataclass(frozen=True)
class CountLine:
    """What a count found in a lot.

    Attributes
    ----------
    lot, form : str
        The lot's code and form.
    mass_mg, difference_mg : int
        What was found, and by how much the book had to be set, in mg.
    how, scale, raw : str
        How the mass became known, the scale's name, and the reading as typed or sent; empty where
        nothing was said.
    gross_mg, tare_mg : int or None
        Readings, in mg.
    """

    lot: str
    form: str
    mass_mg: int
    difference_mg: int
    how: str = "weighed"
    scale: str = ""
    raw: str = ""
    gross_mg: int | None = None
    tare_mg: int | None = None


@dataclass(frozen=True)
class RunRecord:
    """All there is to know of a run.

    Attributes
    ----------
    code, stage, title, state, polymer, machine, origin, note : str
        Its code, its stage and that stage's title, open, closed or void, polymer, machine, the
        origin it received, and what was noted.
    composition_model : str
        "well mixed" or "feed order".
    order_known : bool or None
        Whether the order is known in which a run with a queue was fed and gave; None where a person
        chose how origins are computed, where there is no queue, and while it goes on.
    started_at : datetime
        When it began.
    ended_at : datetime or None
        When it ended.
    operators : tuple of str
        Who worked.
    inputs, outputs, losses, counts : tuple
        What went in, came out, was lost or left, and was counted.
    checks, settings, feeds : tuple
        What was noted, set and fed.
    postings : tuple of PostingRow
        Every posting of it, in order.
    inputs_mg, product_mg, in_process_mg : int
        Mass drawn, given as product, and still inside, in mg.
    unaccounted_mg : int or None
        What closes it, in mg; below zero for a gain, None while it is open.
    stage_yield : float or None
        Product over inputs of the run's polymer; None where nothing was drawn.
    u_stage_yield : float or None
        Its standard uncertainty.
    covered_yield : Covered or None
        What covers 95 % of its truths, as shares.
    figures : tuple of KnownMass
        Every typed figure with how sure it is, and what is doubtful about it.
    closure : RunClosure or None
        How it closes; None while it is open, and where mass only crosses the border.
    changes : tuple of ChangeRow
        What was put right of it, in the order it was written.
    deviations : tuple of DeviationRow
        What it did otherwise than usual.
    """

    code: str
    stage: str
    title: str
    state: str
    polymer: str
    machine: str
    origin: str
    note: str
    composition_model: str
    order_known: bool | None
    started_at: datetime
    ended_at: datetime | None
    operators: tuple[str, ...]
    inputs: tuple[RunInput, ...]
    outputs: tuple[RunOutput, ...]
    losses: tuple[LossLine, ...]
    counts: tuple[CountLine, ...]
    checks: tuple[Noted, ...]
    settings: tuple[Noted, ...]
    feeds: tuple[Fed, ...]
    postings: tuple[PostingRow, ...]
    inputs_mg: int
    product_mg: int
    in_process_mg: int
    unaccounted_mg: int | None
    stage_yield: float | None
    u_stage_yield: float | None
    covered_yield: Covered | None
    figures: tuple[KnownMass, ...]
    closure: RunClosure | None
    changes: tuple[ChangeRow, ...]
    deviations: tuple[DeviationRow, ...]

    @property
    def gain(self) -> bool:
        """Whether more came out than went in."""
        return (self.unaccounted_mg or 0) < 0
