"""What makes a mass uncertain, source by source: scale, steps, tare, sample, rule of thumb.

Sources
-------
.. [1] OIML R 76-1:2006: table 6 and 3.5.2 (limits of error in service).
.. [2] JCGM 100:2008 (GUM): 4.2.3 (mean of a sample), 4.3.7 (limit/√3), F.2.2.1 (steps d/√12),
   5.2.2 and F.1.2.3 (a common source), G.4.2 (degrees of freedom of a rough uncertainty).
"""

import math
from collections.abc import Sequence

from recycling.calc.balance.coverage import FROM_MEMORY
from recycling.calc.balance.weighing import maximum_permissible_error_mg
from recycling.calc.guards import not_negative, positive, some, whole
from shared.measured import RECTANGULAR, Measured, Source, combined

SCALE, STEPS, TARE, SAMPLE, SCATTER = "scale", "steps", "tare", "sample", "scatter"
RULE, COUNT_RULE, HEEL_RULE, STATED = "rule of thumb", "usual bottle", "heel not weighed", "stated"
"""Kinds of sources: a scale's error, the steps of a reading, a container's tare, the mean of a
sample of bottles, the scatter of the bottles that were counted; one person's rule of thumb for
estimates and for what a bottle weighs, the estimate of a heel, and what was stated."""

NO_ERROR = Measured(0.0)


NOT_NAMED = "not named: "
"""Begins the name of a scale that is not known; what follows says where it stands: what is weighed
at one place shares its error, and nothing cancels between two."""


def reading_parts(
    load_mg: float, interval_mg: float, accuracy_class: str, scale: str, number: int
) -> dict[Source, float]:
    """Say what makes a reading of a scale in service uncertain, mg.

    Parameters
    ----------
    load_mg, interval_mg, accuracy_class
        As of `reading`; the scale shows steps of its interval.
    scale : str
        Name of the scale, whose error all its readings share.
    number : int
        Of the reading, whose rounding is its own.

    Returns
    -------
    dict of Source to float
        The scale's error, z·limit with one z, rectangular on −1 to 1, for all its readings (an
        assumption of this book, until the scale is checked with a reference mass): limit/√3. The
        rounding to a step d: d/√12 [2]_.

    Raises
    ------
    ValueError
        As `maximum_permissible_error_mg` does.

    Examples
    --------
    >>> [round(one, 1) for one in reading_parts(2e6, 5_000, "III", "floor", 1).values()]
    [2886.8, 1443.4]
    """
    limit_mg = maximum_permissible_error_mg(load_mg, interval_mg, accuracy_class, in_service=True)
    return {
        Source(SCALE, scale, RECTANGULAR): limit_mg / math.sqrt(3),
        Source(STEPS, number, RECTANGULAR): interval_mg / math.sqrt(12),
    }


def counted_mass(
    count: int,
    sample_mg: Sequence[float],
    reading_error: Measured = NO_ERROR,
    sample: str = "",
    bag: int = 0,
) -> Measured:
    """Mass of bottles that were counted, from a weighed sample of such bottles.

    Parameters
    ----------
    count : int
        Bottles counted, n ≥ 1.
    sample_mg : sequence of float
        Masses of the m ≥ 2 bottles of the sample, mg, each positive.
    reading_error : Measured
        What all the sample's readings share (the scale's own error), zero with its parts, mg.
    sample : str
        Name of the sample: all that is counted by it shares the error of its mean.
    bag : int
        Number of what was counted: its bottles scatter by themselves.

    Returns
    -------
    Measured
        n·x̄ with u² = n²(s²/m + u_reading²) + n·s², mg: the mean of the sample is uncertain
        [2]_, and the bottles counted scatter around the true mean as those of the sample do.
        Both parts rest on the one estimate s with m − 1 degrees of freedom.

    Raises
    ------
    ValueError
        For n = 0, fewer than two bottles in the sample, or a mass that is not positive.

    Examples
    --------
    >>> bottles = counted_mass(100, [24_000, 26_000, 25_000, 25_000])
    >>> round(bottles.value), round(bottles.u)
    (2500000, 41633)
    >>> twice = bottles + counted_mass(100, [24_000, 26_000, 25_000, 25_000], bag=1)
    >>> round(twice.u)  # not √2 of it: the mean errs in both
    82462
    """
    whole("count", count, least=1)
    m = len(some("sample_mg", sample_mg, least=2))
    for mass_mg in sample_mg:
        positive("sample_mg", mass_mg)
    mean = math.fsum(sample_mg) / m
    spread = math.sqrt(math.fsum((x - mean) ** 2 for x in sample_mg) / (m - 1))
    estimate = f"spread of {sample}"
    of_the_mean = Source(SAMPLE, sample, freedom=m - 1, estimate=estimate)
    of_the_bag = Source(SCATTER, bag, freedom=m - 1, estimate=estimate)
    scattered = {of_the_mean: count * spread / math.sqrt(m), of_the_bag: math.sqrt(count) * spread}
    value = count * mean
    return combined(value, ((Measured.of(value, scattered), 1.0), (reading_error, float(count))))


def tare_part(
    tare_mg: float, interval_mg: float, accuracy_class: str, scale: str
) -> dict[Source, float]:
    """Say what a tare adds, mg: containers of one tare on one scale are one, weighed empty once.

    Its reading's limit of error and steps together, u = √(limit²/3 + d²/12) [2]_, with the sign
    that it has in a net mass. Raises ValueError as `reading_parts` does.

    Examples
    --------
    >>> [round(one, 1) for one in tare_part(150_000, 1_000, "III", "bench").values()]
    [-645.5]
    """
    parts = reading_parts(tare_mg, interval_mg, accuracy_class, scale, 0)
    name = f"{tare_mg / 1000:.12g} g, {scale}"
    return {Source(TARE, name, RECTANGULAR): -math.hypot(*parts.values())}


def guessed(kind: str, name: str | int, mass_mg: float, relative_u: float) -> dict[Source, float]:
    """Say what an estimate by a relative uncertainty from memory adds, mg: u = m·r, ν = 8 [2]_.

    What one person estimates by a rule of thumb errs together; `name` says who or what errs.
    Raises ValueError for a negative mass or a share that is not positive.

    Examples
    --------
    >>> guessed("rule of thumb", 7, 2_000_000, 0.2)[Source("rule of thumb", 7, freedom=8.0)]
    400000.0
    """
    not_negative("mass_mg", mass_mg)
    return {Source(kind, name, freedom=FROM_MEMORY): mass_mg * positive("relative_u", relative_u)}
