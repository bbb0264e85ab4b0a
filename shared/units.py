"""Masses as whole milligrams: read from what people type, and written back for them."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Decimal

from shared.errors import Refused
from shared.said import say

MG_PER_UNIT: dict[str, Decimal] = {
    "mg": Decimal(1),
    "g": Decimal(1_000),
    "kg": Decimal(1_000_000),
    "oz": Decimal("28349.523125"),
    "lb": Decimal("453592.37"),
}
"""Milligrams in one unit; ounce and pound avoirdupois are exact by definition [1]_.

.. [1] NIST Special Publication 811 (2008), appendix B.8: 1 lb = 0.453 592 37 kg exactly.
"""

LARGEST_MG = 10**12
"""No single mass in the book is larger: a thousand tonnes."""

_TYPED = re.compile(r"^(?P<number>[0-9]+(?:[.,][0-9]+)*)\s*(?P<unit>[A-Za-z]*)$", re.ASCII)


def parse_mass(text: str, pointer: str = "", bare_unit: str | None = "g") -> int:
    """Read a typed mass as whole milligrams.

    Parameters
    ----------
    text : str
        ASCII digits with at most one decimal point or comma, and a unit of ``MG_PER_UNIT``.
    pointer : str
        Where the text stands in its entry, for the refusal.
    bare_unit : str or None
        The unit of a whole number typed without one; None when a unit must be given.

    Returns
    -------
    int
        The mass in mg, rounded half to even where the unit is not a multiple of 1 mg.

    Raises
    ------
    Refused
        When the text is no mass, could be read in two ways, or is out of bounds.

    Notes
    -----
    A comma counts as the decimal mark where no thousands can be meant: three digits after
    a comma are read as grams of a kilogram, and are refused before any other unit.

    Examples
    --------
    >>> parse_mass("1.234 kg"), parse_mass("1,234 kg"), parse_mass("350 g"), parse_mass("12 oz")
    (1234000, 1234000, 350000, 340194)
    """
    typed = text.strip()
    match = _TYPED.match(typed)
    if not match:
        raise Refused.because(
            "mass-unreadable",
            say("“{text}” is not a mass. Type it like 1.234 kg or 350 g.", text=text),
            pointer,
        )
    number, unit = match["number"], match["unit"].lower() or None
    if unit is None and (bare_unit is None or not number.isdigit()):
        raise Refused.because(
            "mass-without-unit",
            say("“{text}” needs its unit: write {text} g or {text} kg.", text=text),
            pointer,
        )
    unit = unit or bare_unit
    if unit not in MG_PER_UNIT:
        raise Refused.because(
            "mass-unit-unknown",
            say("“{unit}” is not a unit of mass here: mg, g, kg, oz, lb.", unit=unit),
            pointer,
        )
    mass = _decimal(number, unit, text, pointer) * MG_PER_UNIT[unit]
    return checked_mass(int(mass.to_integral_value(ROUND_HALF_EVEN)), pointer)


def _decimal(number: str, unit: str, text: str, pointer: str) -> Decimal:
    marks = [mark for mark in number if mark in ".,"]
    after_comma = number.rpartition(",")[2]
    thousands = marks == [","] and len(after_comma) == 3 and unit != "kg"
    if len(marks) > 1 or thousands:
        raise Refused.because(
            "mass-ambiguous",
            say(
                "“{text}” can be read in two ways. Use a point for decimals and"
                " nothing between thousands.",
                text=text,
            ),
            pointer,
        )
    return Decimal(number.replace(",", "."))


def checked_mass(mass_mg: int, pointer: str = "", zero: bool = False) -> int:
    """Return a mass in mg that lies within the book's bounds.

    Parameters
    ----------
    mass_mg : int
        Mass in mg.
    pointer : str
        Where it stands in its entry.
    zero : bool
        Whether zero is allowed, as in a correction that says a thing was not there.

    Raises
    ------
    Refused
        When the mass is zero, negative or larger than ``LARGEST_MG``.

    Examples
    --------
    >>> checked_mass(12_000)
    12000
    """
    if type(mass_mg) is not int:
        raise Refused.because("mass-not-whole", "A mass is a whole number of mg.", pointer)
    if mass_mg < 0 or (mass_mg == 0 and not zero):
        raise Refused.because("mass-not-positive", "A mass must be more than zero.", pointer)
    if mass_mg > LARGEST_MG:
        raise Refused.because(
            "mass-too-large", "No mass in the book is larger than 1 000 000 kg.", pointer
        )
    return mass_mg


def show_mass(mass_mg: int) -> str:
    """Write a mass for people: kilograms from 1 kg on, else grams, with nothing lost.

    Examples
    --------
    >>> show_mass(4_310_000), show_mass(212_000), show_mass(-38_500), show_mass(7)
    ('4.310 kg', '212 g', '−38.5 g', '0.007 g')
    """
    sign, size = ("−" if mass_mg < 0 else ""), abs(mass_mg)
    if size >= 1_000_000:
        whole, part = divmod(size, 1_000_000)
        digits = f"{part:06d}"
        return f"{sign}{whole:,}".replace(",", "\N{NARROW NO-BREAK SPACE}") + (
            f".{digits[:3]}{digits[3:].rstrip('0')} kg"
        )
    whole, part = divmod(size, 1_000)
    decimals = f".{part:03d}".rstrip("0") if part else ""
    return f"{sign}{whole}{decimals} g"


def typed_mass(mass_mg: int) -> str:
    """Write a mass as it can be typed or sent: kilograms from 1 kg on, else grams.

    Examples
    --------
    >>> typed_mass(1_240_000), typed_mass(38_500)
    ('1.24 kg', '38.5 g')
    """
    unit, size = ("kg", 1_000_000) if mass_mg >= 1_000_000 else ("g", 1_000)
    return f"{mass_mg / size:.6f}".rstrip("0").rstrip(".") + f" {unit}"
