"""Masses with how sure they are, as people and programs see them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from recycling.records.balance.covered import Covered
from recycling.records.setup.practice import PracticeRow


@dataclass(frozen=True)
class Doubt:
    """Something to doubt about a weighing; the weighing is kept all the same.

    Attributes
    ----------
    code : str
        "below_minimum_load", "above_capacity" or "between_steps".
    text : str
        The same for a person.
    """

    code: str
    text: str


@dataclass(frozen=True)
class KnownMass:
    """One typed figure of a run, corrections included, with how sure it is.

    Attributes
    ----------
    posting : int
        Id of the posting that carries it; a correction names this.
    run : str
        Code of the run.
    side : str
        "in" for what went in, "out" for what came out or was lost.
    lot, form : str
        The lot it is of, and its form; empty for a loss.
    account : str
        "lot", or the loss account.
    mass_mg : int
        Net mass, mg, without sign; below zero only for a loss that was a gain.
    u_mg : float
        Standard uncertainty, mg.
    how, basis : str
        "weighed", "counted", "estimated" or "by book", and what the uncertainty rests on.
    assumption : str
        What is assumed where the basis is an assumption: value, unit and source; else empty.
    scale, sample : str
        Name of the scale and of the sample of bottles; empty where none was named.
    gross_mg, tare_mg : int or None
        Readings as entered, mg.
    raw, note : str
        The reading as a scale sent it or a person typed it, and what else was noted.
    doubts : tuple of Doubt
        What is doubtful about the weighing.
    covered : Covered or None
        What covers 95 % of the truths, mg; None in a preview that does not say.
    """

    posting: int
    run: str
    side: str
    lot: str
    form: str
    account: str
    mass_mg: int
    u_mg: float
    how: str
    basis: str
    assumption: str = ""
    scale: str = ""
    sample: str = ""
    gross_mg: int | None = None
    tare_mg: int | None = None
    raw: str = ""
    note: str = ""
    doubts: tuple[Doubt, ...] = ()
    covered: Covered | None = None


@dataclass(frozen=True)
class HowKnown:
    """Masses of a period that became known in one way, in total.

    Attributes
    ----------
    how : str
        "weighed", "counted" or "estimated".
    figures : int
        How many.
    mass_mg : int
        Their sum, mg.
    u_mg : float
        Its standard uncertainty, mg.
    covered : Covered
        What covers 95 % of its truths, mg.
    """

    how: str
    figures: int
    mass_mg: int
    u_mg: float
    covered: Covered


@dataclass(frozen=True)
class SampleRecord:
    """A sample of the workshop's own bottles.

    Attributes
    ----------
    id : int
        Its id.
    name, scale, note : str
        What bottles, the scale they were weighed on, and what else should be known.
    taken_date : date
        Day of the weighing.
    masses_mg : tuple of int
        Mass of each bottle, mg.
    mean_mg, spread_mg : float
        Mean, and standard deviation from bottle to bottle, mg.
    u_mean_mg : float
        Standard uncertainty of the mean, mg, the scale's included.
    covered : Covered
        What covers 95 % of the truths of the mean, mg.
    """

    id: int
    name: str
    scale: str
    note: str
    taken_date: date
    masses_mg: tuple[int, ...]
    mean_mg: float
    spread_mg: float
    u_mean_mg: float
    covered: Covered


@dataclass(frozen=True)
class CountedMass:
    """What a number of counted bottles weighs.

    Attributes
    ----------
    sample : SampleRecord
        The sample it rests on.
    count : int
        How many were counted.
    mass_mg : int
        Count times the sample's mean, mg.
    u_mg : float
        Its standard uncertainty, mg.
    covered : Covered
        What covers 95 % of its truths, mg.
    """

    sample: SampleRecord
    count: int
    mass_mg: int
    u_mg: float
    covered: Covered


@dataclass(frozen=True)
class SampleEntry:
    """A sample of bottles, each weighed by itself.

    Attributes
    ----------
    name : str
        What bottles they are, as "half litre, clear".
    masses_mg : tuple of int
        Mass of each bottle, mg; two or more.
    scale : str
        Name of the scale; empty when none was named.
    taken_date : date or None
        Day of the weighing; None for today.
    note : str
        What else should be known of it.
    """

    name: str
    masses_mg: tuple[int, ...]
    scale: str = ""
    taken_date: date | None = None
    note: str = ""


@dataclass(frozen=True)
class WeighingOverview:
    """How the masses of a period became known, and which of them to doubt.

    Attributes
    ----------
    received, drawn, given : tuple of HowKnown
        What came in, went into runs and came out of them: weighed, counted and estimated apart.
    by_book_mg : int
        What was drawn whole, without a weighing of its own, mg.
    assumed : int
        Figures whose uncertainty rests on an assumption.
    doubtful : tuple of KnownMass
        Weighings below the smallest load, above the capacity, or between steps; newest first.
    more : int
        How many more there are of these.
    samples : tuple of SampleRecord
        Samples of bottles that counts can rest on.
    scales : tuple of str
        What cannot be as entered for a scale, each with its name.
    rests_on : tuple of PracticeRow
        What the workshop assumes where no scale was named or nothing was stated.
    """

    received: tuple[HowKnown, ...]
    drawn: tuple[HowKnown, ...]
    given: tuple[HowKnown, ...]
    by_book_mg: int
    assumed: int
    doubtful: tuple[KnownMass, ...]
    more: int
    samples: tuple[SampleRecord, ...]
    scales: tuple[str, ...]
    rests_on: tuple[PracticeRow, ...]


@dataclass(frozen=True)
class ModelPart:
    """One origin in one lot by both models.

    Attributes
    ----------
    origin, source : str
        Code of the origin, and who gave or sold it; empty for traces.
    well_mixed_mg, feed_order_mg : int
        Its mass by either model, mg.
    """

    origin: str
    source: str
    well_mixed_mg: int
    feed_order_mg: int


@dataclass(frozen=True)
class ModelLot:
    """A lot that a run gave, composed by both models.

    Attributes
    ----------
    lot, form, role : str
        Its code, form and role.
    mass_mg : int
        Its mass, mg; the parts add up to it by either model.
    parts : tuple of ModelPart
        Its origins, the largest first.
    """

    lot: str
    form: str
    role: str
    mass_mg: int
    parts: tuple[ModelPart, ...]


@dataclass(frozen=True)
class ModelsCompared:
    """What a run gave, composed well mixed and in feed order, side by side.

    Attributes
    ----------
    run, model : str
        The run's code, and the model that counts.
    open : bool
        Whether the run goes on; until it is closed the well-mixed model counts.
    fed : tuple of str
        Codes of the lots in the order fed, a code for each feed.
    fed_mg : tuple of int
        Mass of each feed, mg.
    held_mg : int
        Hold-up of the barrel that was reckoned with, mg.
    lots : tuple of ModelLot
        What it gave, in the order given; the heel last.
    """

    run: str
    model: str
    open: bool
    fed: tuple[str, ...]
    fed_mg: tuple[int, ...]
    held_mg: int
    lots: tuple[ModelLot, ...]
