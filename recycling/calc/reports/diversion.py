"""What was diverted from waste: five counters that are never mixed up, rates, recycled content.

Sources
-------
.. [1] US EPA, Sustainable Materials Management, frequent questions: recycling rate.
.. [2] ISO 14021:2016, 7.8: recycled content.
.. [3] JCGM 100:2008 (GUM), 5.1.2: combined uncertainty.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from shared.measured import Measured, total


class Counter(StrEnum):
    """Where on its way mass is counted."""

    COLLECTED = "collected"
    ACCEPTED = "accepted"
    MELT = "entered the melt"
    PRODUCT = "good product"
    DISPATCHED = "dispatched"


IN_WORDS: Mapping[Counter, str] = {
    Counter.COLLECTED: "Everything that was handed over, as weighed, with what did not belong.",
    Counter.ACCEPTED: "What was kept after sorting, as weighed, before washing and grinding.",
    Counter.MELT: "What was fed to the extruder for the first time, without its moisture; own scrap"
    " and heels that are fed again are not counted again.",
    Counter.PRODUCT: "Products within limits and not on hold at the end, less what was so at the"
    " start; below zero more was taken back than became good.",
    Counter.DISPATCHED: "Product that left the workshop for a named receiver.",
}
"""What each counter counts, as a report says it."""

RECYCLED, ENERGY, DISPOSED, REUSED = "recycled", "burnt for energy", "disposed", "reused"
DIVERTED = {RECYCLED: True, REUSED: True, ENERGY: False, DISPOSED: False}
"""Whether mass that goes there is diverted; burning for energy is not."""


@dataclass(frozen=True)
class Count:
    """A counter's mass. weighed, estimated: mg, kept apart; total: both."""

    weighed: Measured = Measured(0.0)
    estimated: Measured = Measured(0.0)

    @property
    def total(self) -> Measured:
        """Weighed and estimated mass together, mg."""
        return self.weighed + self.estimated


@dataclass(frozen=True)
class MassLine:
    """One mass on its way. counter, polymer; mass: mg; is_estimated: not weighed.

    happened_date: when it was handed over, fed, made or sent. written_date: when it was entered.
    """

    counter: Counter
    polymer: str
    mass: Measured
    happened_date: date
    written_date: date
    is_estimated: bool = False


@dataclass(frozen=True)
class Diversion:
    """Counters of a period. by_polymer, total: mass of each counter; late: corrections apart.

    late holds lines of earlier periods that were written in this one, in order of their date.
    """

    by_polymer: Mapping[str, Mapping[Counter, Count]]
    total: Mapping[Counter, Count]
    late: tuple[MassLine, ...]

    def stock_mg(self) -> Measured:
        """Accepted mass that has not entered the melt, mg: a line of its own, not diverted yet."""
        return self.total[Counter.ACCEPTED].total - self.total[Counter.MELT].total


def counted(lines: Iterable[MassLine], first_date: date, last_date: date) -> Diversion:
    """Add up the five counters of a period, by polymer and in total.

    A line counts in the period in which it happened. What happened earlier and was written in this
    period is a dated line of its own; it changes no total. What was written after the period is
    left to the next one, so that a frozen report stays.

    Parameters
    ----------
    lines : masses with their dates, mg.
    first_date, last_date : the period, both days included.

    Returns
    -------
    Diversion
        All five counters, zero where nothing was counted, mg.

    Raises
    ------
    ValueError
        If the period runs backward, or a line was written before it happened.

    Examples
    --------
    >>> day = date(2025, 5, 3)
    >>> lines = [MassLine(Counter.COLLECTED, "PET", Measured(100.0, 3.0), day, day),
    ...          MassLine(Counter.COLLECTED, "PET", Measured(50.0, 4.0), day, day)]
    >>> counted(lines, date(2025, 5, 1), date(2025, 5, 31)).total[Counter.COLLECTED].total
    Measured(value=150.0, u=5.0)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2.
    """
    if last_date < first_date:
        raise ValueError(f"the period ends on {last_date}, before it starts on {first_date}")
    here: list[MassLine] = []
    late: list[MassLine] = []
    for line in lines:
        if line.written_date < line.happened_date:
            raise ValueError(f"a mass of {line.happened_date} was written on {line.written_date}")
        if line.written_date <= last_date and line.happened_date >= first_date:
            here.append(line)
        elif first_date <= line.written_date <= last_date:
            late.append(line)
    polymers = sorted({line.polymer for line in here})
    return Diversion(
        {p: _counts([line for line in here if line.polymer == p]) for p in polymers},
        _counts(here),
        tuple(sorted(late, key=lambda line: (line.happened_date, line.written_date))),
    )


def _counts(lines: list[MassLine]) -> dict[Counter, Count]:
    def of(counter: Counter, is_estimated: bool) -> Measured:
        return total(
            line.mass
            for line in lines
            if line.counter is counter and line.is_estimated is is_estimated
        )

    return {counter: Count(of(counter, False), of(counter, True)) for counter in Counter}


def rate(part_mg: Measured, whole_mg: Measured) -> Measured:
    """Share of one counter in an earlier one: part / whole; what both share cancels.

    Parameters
    ----------
    part_mg, whole_mg : masses, mg.

    Returns
    -------
    Measured
        The share, without unit; above one where more came out than went in.

    Raises
    ------
    ValueError
        If the part is negative or the whole is not above zero.

    Examples
    --------
    >>> rate(Measured(74.0), Measured(80.0)).value
    0.925

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2.
    """
    if part_mg.value < 0 or whole_mg.value <= 0:
        raise ValueError("a rate needs a part from zero up and a whole above zero")
    return part_mg / whole_mg


def recycling_rate(by_destination: Mapping[str, Measured]) -> Measured:
    """Recycled mass over all mass that was recycled, reused, burnt or disposed of.

    r = R / (R + D) with R the diverted and D the other mass; what both share counts once.

    Parameters
    ----------
    by_destination : mass by where it went, mg; the keys of `DIVERTED`.

    Returns
    -------
    Measured
        The rate, from 0 to 1.

    Raises
    ------
    ValueError
        If a destination has no name here, a mass is negative, or there is none.

    Examples
    --------
    >>> recycling_rate({"recycled": Measured(820.0), "disposed": Measured(180.0)}).value
    0.82

    References
    ----------
    .. [1] US EPA, Sustainable Materials Management, frequent questions: recycling rate.
    """
    for destination, mass in by_destination.items():
        if destination not in DIVERTED:
            raise ValueError(f"{destination} is not one of {', '.join(DIVERTED)}")
        if mass.value < 0:
            raise ValueError(f"the mass {destination} is negative")
    return _share_of(
        total(mass for where, mass in by_destination.items() if DIVERTED[where]),
        total(mass for where, mass in by_destination.items() if not DIVERTED[where]),
    )


def _share_of(counted_mg: Measured, other_mg: Measured) -> Measured:
    whole = counted_mg.value + other_mg.value
    if whole <= 0:
        raise ValueError("there is no mass to take a share of")
    return counted_mg / (counted_mg + other_mg)


RECYCLED_ORIGINS = ("post-consumer", "pre-consumer")
VIRGIN = "virgin"


def recycled_content(by_origin: Mapping[str, Measured]) -> Measured:
    """Share of recycled material in a product by mass: A / P.

    Own scrap that is fed again is not an origin: it keeps the shares of what it was made from, so
    that it is never counted twice. The masses are the product's composition by origin.

    Parameters
    ----------
    by_origin : mass in the product by post-consumer, pre-consumer and virgin origin, mg.

    Returns
    -------
    Measured
        The share, from 0 to 1.

    Raises
    ------
    ValueError
        If an origin has another name (rework is none), a mass is negative, or there is none.

    Examples
    --------
    >>> recycled_content({"post-consumer": Measured(950.0), "virgin": Measured(50.0)}).value
    0.95

    References
    ----------
    .. [1] ISO 14021:2016, 7.8.1.1 and 7.8.4: pre- and post-consumer material, rework left out.
    """
    for origin, mass in by_origin.items():
        if origin not in (*RECYCLED_ORIGINS, VIRGIN):
            raise ValueError(f"{origin} is not an origin: {', '.join(RECYCLED_ORIGINS)}, {VIRGIN}")
        if mass.value < 0:
            raise ValueError(f"the {origin} mass is negative")
    return _share_of(
        total(mass for origin, mass in by_origin.items() if origin != VIRGIN),
        by_origin.get(VIRGIN, Measured(0.0)),
    )
