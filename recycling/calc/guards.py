"""Refusals that every calculation shares: a bad number is named, never computed with."""

import math
from collections.abc import Sized
from numbers import Integral, Real
from typing import TypeVar

Number = TypeVar("Number", int, float)
Several = TypeVar("Several", bound=Sized)


def finite(name: str, number: float) -> float:
    """Return the number if it is a finite real one, in whatever unit `name` says.

    Raises ValueError, with the name, for NaN, infinities, booleans and what is no number.

    Examples
    --------
    >>> finite("mass_mg", 5)
    5
    """
    plain = type(number) in (int, float)  # asked first: whether something is a Real asks slowly
    real = plain or (isinstance(number, Real) and not isinstance(number, bool))
    if not real or not math.isfinite(number):
        raise ValueError(f"{name} must be a finite number, not {number!r}")
    return number


def not_negative(name: str, number: Number) -> Number:
    """Return the number if it is finite and zero or more, else raise ValueError.

    Examples
    --------
    >>> not_negative("mass_mg", 0)
    0
    """
    if finite(name, number) < 0:
        raise ValueError(f"{name} cannot be negative: {number!r}")
    return number


def positive(name: str, number: float) -> float:
    """Return the number if it is finite and above zero, else raise ValueError.

    Examples
    --------
    >>> positive("density_g_per_cm3", 1.38)
    1.38
    """
    if finite(name, number) <= 0:
        raise ValueError(f"{name} must be above zero, not {number!r}")
    return number


def share(name: str, number: float) -> float:
    """Return the number if it lies between 0 and 1, both included, else raise ValueError.

    Examples
    --------
    >>> share("moisture", 0.003)
    0.003
    """
    if not 0 <= finite(name, number) <= 1:
        raise ValueError(f"{name} is a share between 0 and 1, not {number!r}")
    return number


def whole(name: str, number: int, least: int = 0) -> int:
    """Return the number if it is whole and at least `least`, else raise ValueError.

    Examples
    --------
    >>> whole("count", 12, least=1)
    12
    """
    if isinstance(number, bool) or not isinstance(number, Integral) or number < least:
        raise ValueError(f"{name} must be a whole number of at least {least}, not {number!r}")
    return int(number)


def some(name: str, values: Several, least: int = 1) -> Several:
    """Return the values if there are at least `least` of them, else raise ValueError.

    Examples
    --------
    >>> some("readings_mm", [1.74])
    [1.74]
    """
    if len(values) < least:
        raise ValueError(f"{name} needs at least {least} value(s), has {len(values)}")
    return values
