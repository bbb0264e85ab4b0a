"""Weighing: what a scale reading says, how sure it is, and when to doubt it.

Sources
-------
.. [1] OIML R 76-1:2006, Non-automatic weighing instruments: table 3 (classes, smallest
   load), 3.5.1 with table 6 (limits at verification), 3.5.2 (twice that in service).
.. [2] JCGM 100:2008 (GUM): 4.3.7 (rectangular distribution), F.2.2.1 (resolution),
   5.1.2 (combination), 7.2.6 (digits in a report).
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Context, Decimal

from recycling.calc.guards import not_negative, positive, whole
from shared.measured import Measured, total

LIMIT_BANDS_E = {
    "I": (50_000, 200_000),
    "II": (5_000, 20_000),
    "III": (500, 2_000),
    "IIII": (50, 200),
}
"""Load, in intervals e, up to which the limit is 0.5 e and 1 e; 1.5 e above (table 6)."""

LARGEST_LOAD_E = {"I": math.inf, "II": 100_000, "III": 10_000, "IIII": 1_000}
"""Largest number of intervals that a class allows (table 3)."""

HOW_KNOWN = ("weighed", "counted", "estimated")
"""How a mass came to be known, in order of trust; each is totalled apart."""

WARNINGS = {
    "below_minimum_load": "{gross} is below this scale's smallest load, {least}: the relative"
    " error may be large.",
    "above_capacity": "{gross} is above the capacity of this scale, {capacity}.",
    "beyond_class": "A scale of this class and interval cannot have a capacity of {capacity}:"
    " check what is entered for the scale.",
    "between_steps": "This scale shows steps of {step} and cannot show {gross}: check the typed"
    " figure.",
}
"""Code of each warning → what it says."""


@dataclass(frozen=True, slots=True)
class WeighingWarning:
    """Something to doubt about a weighing: `code` for a program, `sentence` for a person."""

    code: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Rounded:
    """A value and its standard uncertainty with the digits that a report should show."""

    value: Decimal
    u: Decimal

    def __str__(self) -> str:
        return f"{self.value:f} ± {self.u:f}"


_ANY_DIGITS = Context(prec=700)  # a float has at most 309 before the point and 324 after it


def _class_known(accuracy_class: str) -> str:
    if accuracy_class not in LIMIT_BANDS_E:
        known = ", ".join(LIMIT_BANDS_E)
        raise ValueError(f"accuracy_class must be one of {known}, not {accuracy_class!r}")
    return accuracy_class


def maximum_permissible_error_mg(
    load_mg: float, interval_mg: float, accuracy_class: str, in_service: bool = False
) -> float:
    """Largest error that a scale of a class may show at a load.

    Parameters
    ----------
    load_mg : float
        Load on the scale, mg, not negative.
    interval_mg : float
        Verification scale interval e, mg.
    accuracy_class : {"I", "II", "III", "IIII"}
        Accuracy class of the scale.
    in_service : bool
        False: limit at verification. True: limit in service, twice as much.

    Returns
    -------
    float
        Limit of error without its sign, mg: 0.5 e, 1 e or 1.5 e by load [1]_. Above the
        largest load of the class the last step is carried on; `weighing_warnings` says so.

    Raises
    ------
    ValueError
        For a negative load, an interval that is not positive, or an unknown class.

    Examples
    --------
    >>> maximum_permissible_error_mg(2_500_000, 5_000, "III")
    2500.0
    >>> maximum_permissible_error_mg(2_505_000, 5_000, "III", in_service=True)
    10000.0
    """
    lower_e, upper_e = LIMIT_BANDS_E[_class_known(accuracy_class)]
    load_e = not_negative("load_mg", load_mg) / positive("interval_mg", interval_mg)
    steps = 0.5 if load_e <= lower_e else 1.0 if load_e <= upper_e else 1.5
    return steps * interval_mg * (2 if in_service else 1)


def minimum_load_mg(interval_mg: float, accuracy_class: str) -> float:
    """Smallest load that a scale of a class should weigh, in mg [1]_.

    100 e in class I; 20 e in class II up to e = 50 mg and 50 e from there; 20 e in class
    III; 10 e in class IIII. Raises ValueError for an unknown class or an interval (mg)
    that is not positive.

    Examples
    --------
    >>> minimum_load_mg(1_000, "III")
    20000
    """
    positive("interval_mg", interval_mg)
    if _class_known(accuracy_class) == "II":
        return (20 if interval_mg <= 50 else 50) * interval_mg
    return {"I": 100, "III": 20, "IIII": 10}[accuracy_class] * interval_mg


def reading_u_mg(resolution_mg: float, limit_of_error_mg: float = 0.0) -> float:
    """Standard uncertainty of one reading, mg.

    Parameters
    ----------
    resolution_mg : float
        Smallest step d that the scale shows, mg.
    limit_of_error_mg : float
        Limit of error of the scale, mg, taken as a rectangular distribution of ± that.

    Returns
    -------
    float
        u = √((d/√12)² + (limit/√3)²), mg [2]_. Raises ValueError if the resolution is not
        positive or the limit is negative.

    Examples
    --------
    >>> round(reading_u_mg(1_000, 500), 1)
    408.2
    """
    resolution = positive("resolution_mg", resolution_mg) / math.sqrt(12)
    return math.hypot(
        resolution, not_negative("limit_of_error_mg", limit_of_error_mg) / math.sqrt(3)
    )


def reading(
    load_mg: float,
    interval_mg: float,
    accuracy_class: str,
    resolution_mg: float | None = None,
    in_service: bool = True,
) -> Measured:
    """Give a scale reading its standard uncertainty, from the class of the scale.

    Parameters
    ----------
    load_mg : float
        What the scale showed, mg.
    interval_mg : float
        Verification scale interval e, mg.
    accuracy_class : {"I", "II", "III", "IIII"}
        Accuracy class of the scale.
    resolution_mg : float, optional
        Step d that the scale shows, mg; e where left out.
    in_service : bool
        Whether the limit in service holds (a scale in daily use) or that at verification.

    Returns
    -------
    Measured
        The reading with u from `reading_u_mg` and `maximum_permissible_error_mg`, mg;
        raises ValueError as those two do.

    Examples
    --------
    >>> reading(850_000, 1_000, "III", in_service=False)
    Measured(value=850000, u=645.4972243679028)
    """
    limit = maximum_permissible_error_mg(load_mg, interval_mg, accuracy_class, in_service)
    step_mg = interval_mg if resolution_mg is None else resolution_mg
    return Measured(load_mg, reading_u_mg(step_mg, limit))


def net(gross: Measured, tare: Measured) -> Measured:
    """Net mass: gross − tare with u² = u_gross² + u_tare², mg [2]_.

    Raises ValueError if either is negative or the container outweighs what was weighed.
    Several weighings in one container subtract one and the same tare.

    Examples
    --------
    >>> net(Measured(2_500_000, 300.0), Measured(500_000, 400.0))
    Measured(value=2000000, u=500.0)
    """
    not_negative("gross", gross.value)
    not_negative("tare", tare.value)
    if tare.value > gross.value:
        raise ValueError(f"the tare ({tare.value} mg) is more than the gross ({gross.value} mg)")
    return gross - tare


def weighing_warnings(
    gross_mg: float,
    interval_mg: float,
    accuracy_class: str,
    capacity_mg: float,
    resolution_mg: float | None = None,
) -> tuple[WeighingWarning, ...]:
    """Say what is doubtful about a reading; the reading is kept all the same.

    Parameters
    ----------
    gross_mg : float
        What lay on the scale, mg.
    interval_mg : float
        Verification scale interval e, mg.
    accuracy_class : {"I", "II", "III", "IIII"}
        Accuracy class of the scale.
    capacity_mg : float
        Largest load of the scale (Max), mg.
    resolution_mg : float, optional
        Step d that the scale shows, mg; e where left out.

    Returns
    -------
    tuple of WeighingWarning
        Codes: ``below_minimum_load``, ``above_capacity``, ``beyond_class`` (the capacity is
        more intervals than the class allows [1]_), ``between_steps`` (the scale cannot
        show this figure: perhaps mistyped). Empty where nothing is doubtful.

    Raises
    ------
    ValueError
        For a negative reading, or interval, step or capacity that is not positive.

    Examples
    --------
    >>> [w.code for w in weighing_warnings(12_000, 1_000, "III", 6_000_000)]
    ['below_minimum_load']
    """
    not_negative("gross_mg", gross_mg)
    positive("capacity_mg", capacity_mg)
    least_mg = minimum_load_mg(interval_mg, accuracy_class)
    step_mg = positive("resolution_mg", interval_mg if resolution_mg is None else resolution_mg)
    off_step_mg = abs(gross_mg - round(gross_mg / step_mg) * step_mg)
    doubts = {
        "below_minimum_load": gross_mg < least_mg,
        "above_capacity": gross_mg > capacity_mg,
        "beyond_class": capacity_mg > LARGEST_LOAD_E[accuracy_class] * interval_mg,
        "between_steps": off_step_mg > 1e-6 * step_mg,
    }
    figures = {"gross": gross_mg, "least": least_mg, "capacity": capacity_mg, "step": step_mg}
    in_g = {name: f"{mass_mg / 1000:.12g} g" for name, mass_mg in figures.items()}
    return tuple(
        WeighingWarning(code, WARNINGS[code].format(**in_g))
        for code, doubtful in doubts.items()
        if doubtful
    )


def rounded(measured: Measured, digits: int = 2, up: bool = False) -> Rounded:
    """Round a value to its uncertainty, and the uncertainty to a few digits.

    Parameters
    ----------
    measured : Measured
        Value and standard uncertainty, any unit.
    digits : int
        Significant digits of the uncertainty; two usually suffice (GUM 7.2.6 [2]_).
    up : bool
        Round the uncertainty up rather than to nearest, as the GUM allows.

    Returns
    -------
    Rounded
        Exact decimals, same unit; a value without uncertainty keeps all its digits.
        Raises ValueError if `digits` is not a whole number of at least one.

    Examples
    --------
    >>> str(rounded(Measured(10.05762, 0.027)))
    '10.058 ± 0.027'
    >>> str(rounded(Measured(1234.5, 99.6)))
    '1230 ± 100'
    """
    whole("digits", digits, least=1)
    value, u = Decimal(str(measured.value)), Decimal(str(measured.u))
    if not u:
        return Rounded(value, Decimal(0))
    mode = ROUND_CEILING if up else ROUND_HALF_EVEN
    for _ in range(2):  # a second time, for 99.6 becomes 100 and so has one digit too many
        place = Decimal(1).scaleb(u.adjusted() - digits + 1)
        u = u.quantize(place, mode, _ANY_DIGITS)
    return Rounded(value.quantize(place, ROUND_HALF_EVEN, _ANY_DIGITS), u)


def totals_by_how_known(masses: Iterable[tuple[str, Measured]]) -> dict[str, Measured]:
    """Total weighed, counted and estimated masses apart.

    Parameters
    ----------
    masses : iterable of (how, Measured)
        `how` is one of `HOW_KNOWN`; masses in mg.

    Returns
    -------
    dict of str to Measured
        One total for each of `HOW_KNOWN`, in that order, zero where there is nothing.

    Raises
    ------
    ValueError
        For a mass that was known in some other way.

    Examples
    --------
    >>> totals_by_how_known([("weighed", Measured(5.0, 0.1))])["estimated"]
    Measured(value=0.0, u=0.0)
    """
    parts: dict[str, list[Measured]] = {how: [] for how in HOW_KNOWN}
    for how, mass in masses:
        if how not in parts:
            raise ValueError(f"a mass is one of {', '.join(HOW_KNOWN)}, not {how!r}")
        parts[how].append(mass)
    return {how: total(listed) for how, listed in parts.items()}
