"""What a typed figure cannot well be, from the first day on: scales, times, sizes, meters.

Each function says by a code what is doubtful, or gives an empty text; nothing is refused. Limits
are choices of this project, default, not checked, where no source is named.

Sources
-------
.. [1] ISO 80000-3:2019, volume of a cylinder: V = π/4 · d² · l.
"""

import math
from datetime import UTC, datetime, timedelta

from recycling.calc.guards import finite, not_negative, positive

CLOCK_SLACK = timedelta(minutes=5)
"""How far ahead of the book's clock another one may be without a question."""

FIRST_USUAL_YEAR = 2000
"""Before this year nothing happened, usually, that a book of today tells of."""

LONG_BEFORE = timedelta(days=365)
"""How long before the first entry of a book something may have happened without a question."""

OUT_OVER_IN = 1.02
"""What may come out of what went in, where nothing is taken up: scales scatter."""

NOTED_OVER_RUN = 1.1
"""What may be noted as a length of time, in parts of the whole run's."""

LENGTH_APART = 0.15
"""How far the mass of a strand may lie from that of its diameter and length, as a share."""

LARGEST_SPOOL_MG = 10_000_000
"""Filament on the largest spool that is usual, mg."""

BOTTLE_MG = (10_000, 60_000)
"""From which to which mean mass a bottle is usual, mg."""

METER_OVER_PLATE = 1.2
"""What a meter may count, in parts of what its machine can take by its plate."""


def moment_doubt(at: datetime, first: datetime | None, now: datetime) -> str:
    """Doubt a time that is still to come, long before the first entry of its book, or before 2000.

    Parameters
    ----------
    at, now : datetime
        The time and the present one, aware.
    first : datetime or None
        Of the first entry of the book, aware; None where there is none.

    Raises
    ------
    ValueError
        For a time without offset.

    Examples
    --------
    >>> from datetime import UTC
    >>> now, first = datetime(2026, 6, 1, tzinfo=UTC), datetime(2026, 1, 2, tzinfo=UTC)
    >>> moment_doubt(datetime(2016, 5, 4, tzinfo=UTC), first, now)
    'long-before'
    >>> moment_doubt(now + CLOCK_SLACK, first, now), moment_doubt(now.replace(day=2), None, now)
    ('', 'to-come')
    >>> moment_doubt(datetime(1999, 5, 4, tzinfo=UTC), None, now)
    'before-2000'
    """
    if None in (at.tzinfo, now.tzinfo) or (first is not None and first.tzinfo is None):
        raise ValueError("at must have an offset")
    if at > now + CLOCK_SLACK:
        return "to-come"
    if first is not None and at < first - LONG_BEFORE:
        return "long-before"
    return "before-2000" if at.astimezone(UTC).year < FIRST_USUAL_YEAR else ""


def other_year(at: datetime, now: datetime) -> datetime | None:
    """Give the same day and clock in the last year in which it had come; both aware.

    None where there is none, or for a 29 February.

    Examples
    --------
    >>> from datetime import UTC
    >>> other_year(datetime(2016, 5, 4, tzinfo=UTC), datetime(2026, 6, 1, tzinfo=UTC)).year
    2026
    """
    for year in (now.year, now.year - 1):
        try:
            other = at.replace(year=year)
        except ValueError:
            continue
        if other <= now and other != at:
            return other
    return None


def scale_doubt(gross_mg: float, largest_mg: float, step_mg: float) -> str:
    """Doubt a reading, mg, above the capacity of the largest scale, or below the least step, mg.

    Raises ValueError for masses or steps that are not positive.

    Examples
    --------
    >>> scale_doubt(4_310_000_000, 150_000_000, 100), scale_doubt(50, 150_000_000, 100)
    ('above-scales', 'below-scales')
    """
    positive("gross_mg", gross_mg)
    if gross_mg > positive("largest_mg", largest_mg):
        return "above-scales"
    return "below-scales" if gross_mg < positive("step_mg", step_mg) else ""


def out_doubt(out_mg: float, in_mg: float) -> str:
    """Doubt what came out, mg, of what went in, mg, where nothing is taken up.

    Raises ValueError for a negative mass.

    Examples
    --------
    >>> out_doubt(1_010_000, 1_000_000), out_doubt(10_100_000, 1_000_000)
    ('', 'out-above-in')
    """
    if not not_negative("in_mg", in_mg):
        return ""
    return "out-above-in" if not_negative("out_mg", out_mg) > OUT_OVER_IN * in_mg else ""


def span_doubt(noted_s: float, run_s: float) -> str:
    """Doubt a noted length of time, s, that is longer than its whole run, s.

    Raises ValueError for a negative time.

    Examples
    --------
    >>> span_doubt(5 * 3600, 60), span_doubt(4 * 3600, 4.2 * 3600)
    ('longer-than-run', '')
    """
    longest = NOTED_OVER_RUN * not_negative("run_s", run_s) + 60
    return "longer-than-run" if not_negative("noted_s", noted_s) > longest else ""


def strand_mg(diameter_mm: float, length_m: float, density_g_per_cm3: float) -> float:
    """Mass of a strand, mg, from its diameter, mm, its length, m, and its density [1]_.

    Raises ValueError for what is not positive.

    Examples
    --------
    >>> round(strand_mg(1.75, 330, 1.38) / 1e6, 2)
    1.1
    """
    area_mm2 = math.pi / 4 * positive("diameter_mm", diameter_mm) ** 2
    volume_mm3 = area_mm2 * positive("length_m", length_m) * 1000
    return volume_mm3 * positive("density_g_per_cm3", density_g_per_cm3)


def length_doubt(mass_mg: float, expected_mg: float) -> str:
    """Doubt a mass, mg, that lies far from that of its diameter and length, mg.

    Raises ValueError for masses that are not positive.

    Examples
    --------
    >>> length_doubt(1_000_000, 1_100_000), length_doubt(1_000_000, 110_000)
    ('', 'length-differs')
    """
    apart = positive("mass_mg", mass_mg) / positive("expected_mg", expected_mg) - 1
    return "length-differs" if abs(apart) > LENGTH_APART else ""


def spool_doubt(mass_mg: float) -> str:
    """Doubt a spool with more filament on it than any usual one carries, mg.

    Raises ValueError for a mass that is not positive.

    Examples
    --------
    >>> spool_doubt(1_000_000), spool_doubt(12_400_000)
    ('', 'spool-heavy')
    """
    return "spool-heavy" if positive("mass_mg", mass_mg) > LARGEST_SPOOL_MG else ""


def bottles_doubt(mass_mg: float, count: int) -> str:
    """Doubt a number of bottles whose mean mass is no bottle's; mass in mg.

    Raises ValueError for what is not positive.

    Examples
    --------
    >>> bottles_doubt(2_500_000, 100), bottles_doubt(2_500_000, 1000)
    ('', 'bottles-odd')
    """
    least, most = BOTTLE_MG
    mean_mg = positive("mass_mg", mass_mg) / positive("count", count)
    return "" if least <= mean_mg <= most else "bottles-odd"


def meter_doubt(before_kwh: float, after_kwh: float, hours: float, plate_w: float | None) -> str:
    """Doubt a counter that goes back, or faster than its machine can take.

    Parameters
    ----------
    before_kwh, after_kwh : float
        Two readings one after the other, kWh.
    hours : float
        Time between them, h.
    plate_w : float or None
        Power on the machine's plate, W; None where it is not known.

    Raises
    ------
    ValueError
        For a negative time, or a plate that is not positive.

    Examples
    --------
    >>> meter_doubt(1200.0, 120.5, 3, 2000), meter_doubt(1200.0, 1300.0, 3, 2000)
    ('meter-back', 'meter-jump')
    >>> meter_doubt(1200.0, 1203.0, 3, 2000)
    ''
    """
    counted = finite("after_kwh", after_kwh) - finite("before_kwh", before_kwh)
    if counted < 0:
        return "meter-back"
    if plate_w is None:
        return ""
    most = METER_OVER_PLATE * positive("plate_w", plate_w) / 1000 * not_negative("hours", hours)
    return "meter-jump" if counted > most else ""
