"""A value with named components of its uncertainty, and how these combine.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 5.1.3 (contributions c·u), 5.2.2 (correlated inputs), F.1.2.3
   (correlation by a common source).
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import count
from typing import Any, NamedTuple, cast

PLAIN = (float, int)
NORMAL, RECTANGULAR = "normal", "rectangular"
OWN = "own"
"""Kind of a source that nobody named."""

_numbers = count()


class Source(NamedTuple):
    """Something that errs once, for all values that it enters.

    Attributes
    ----------
    kind : str
        What it is: ``scale``, ``tare``, ``sample``, ``reading``, ….
    name : str or int
        Which one.
    shape : {"normal", "rectangular"}
        Distribution of its error.
    freedom : float
        Degrees of freedom of the estimate of its size; infinite where that is known.
    estimate : str or None
        The variance estimate that its size rests on, where others rest on the same.
    """

    kind: str
    name: str | int = ""
    shape: str = NORMAL
    freedom: float = math.inf
    estimate: str | None = None


Parts = Mapping[Source, float]
"""Source → signed contribution: its standard uncertainty times the sensitivity to it."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A value and its standard uncertainty, in one unit, with the sources that it is made of.

    What two values share is counted as shared: a sum adds contributions source by source, so a
    scale's error grows with the weighings on it, and cancels in their difference.

    Parameters
    ----------
    value : float
        Best estimate, in the unit that the name of the variable says.
    u : float
        Standard uncertainty (k = 1), same unit, not negative.
    parts : mapping of Source to float, optional
        Its contributions, u² = Σ c²; left out, all of it is one source of its own.

    Raises
    ------
    ValueError
        If either is not a finite number, or `u` is negative.

    Notes
    -----
    First order [1]_: c of a ± b is c_a ± c_b, of a·b it is b·c_a + a·c_b, of a/b it is
    (c_a − (a/b)·c_b)/b, for each source.

    Examples
    --------
    >>> loss = Measured(12.50, 0.05) - Measured(10.80, 0.05) - Measured(1.10, 0.02)
    >>> f"{loss.value:.3f} ± {loss.u:.3f} kg"
    '0.600 ± 0.073 kg'
    >>> crate = Measured(500.0, 3.0)
    >>> (Measured(2500.0, 1.0) - crate) - (Measured(900.0, 1.0) - crate)
    Measured(value=1600.0, u=1.4142135623730951)
    """

    value: float
    u: float = 0.0
    parts: Parts = field(default=cast("Parts", None), repr=False, compare=False)

    def __post_init__(self) -> None:
        # a report makes hundred thousands of these, of plain numbers nearly all
        value, u = self.value, self.u
        plain = type(value) in PLAIN and type(u) in PLAIN
        if not (plain and 0 <= u < math.inf and _is_finite(value)):
            for name in ("value", "u"):
                number = getattr(self, name)
                if isinstance(number, bool) or not _is_finite(number):
                    raise ValueError(f"{name} must be a finite number, not {number!r}")
            if u < 0:
                raise ValueError(f"a standard uncertainty cannot be negative: {u!r}")
        if self.parts is None:
            object.__setattr__(self, "parts", {Source(OWN, next(_numbers)): u} if u else {})

    @classmethod
    def of(cls, value: float, parts: Parts) -> "Measured":
        """Make a value of its contributions, in its unit: u = √Σc²."""
        return cls(value, math.hypot(*parts.values()), parts)

    def __add__(self, other: "Measured") -> "Measured":
        return combined(self.value + other.value, ((self, 1.0), (other, 1.0)))

    def __sub__(self, other: "Measured") -> "Measured":
        return combined(self.value - other.value, ((self, 1.0), (other, -1.0)))

    def __neg__(self) -> "Measured":
        return combined(-self.value, ((self, -1.0),))

    def __mul__(self, other: "Measured") -> "Measured":
        return combined(self.value * other.value, ((self, other.value), (other, self.value)))

    def __truediv__(self, other: "Measured") -> "Measured":
        if other.value == 0:
            raise ValueError("cannot divide by a measured value of zero")
        ratio = self.value / other.value
        return combined(ratio, ((self, 1 / other.value), (other, -ratio / other.value)))

    def times(self, factor: float) -> "Measured":
        """Multiply by an exact number.

        Examples
        --------
        >>> Measured(2.0, 0.5).times(-2)
        Measured(value=-4.0, u=1.0)
        """
        return combined(self.value * factor, ((self, factor),))

    def interval(self, k: float = 2.0) -> tuple[float, float]:
        """Return value − k·u and value + k·u, in the unit of the value.

        Raises ValueError unless the coverage factor `k` is positive (GUM 6.2 [1]_).

        Examples
        --------
        >>> Measured(10.0, 0.5).interval()
        (9.0, 11.0)
        """
        if not _is_finite(k) or k <= 0:
            raise ValueError(f"the coverage factor must be positive, not {k!r}")
        return self.value - k * self.u, self.value + k * self.u


def _is_finite(number: Any) -> bool:
    try:
        return math.isfinite(number)
    except TypeError:
        return False


def combined(value: float, terms: Iterable[tuple[Measured, float]]) -> Measured:
    """Give a result the uncertainty of what it was worked out from, to first order.

    Parameters
    ----------
    value : float
        The result, any unit.
    terms : iterable of (input, sensitivity)
        Each input with ∂result/∂input; one that occurs twice is the same measurement twice.

    Returns
    -------
    Measured
        The result with c = Σ sensitivity·c_input for each source [1]_.

    Raises
    ------
    ValueError
        If the result is not finite.

    Examples
    --------
    >>> side = Measured(2.0, 0.1)
    >>> combined(side.value**2, [(side, 2 * side.value)])
    Measured(value=4.0, u=0.4)
    """
    parts: dict[Source, float] = {}
    for one, sensitivity in terms:
        for source, part in one.parts.items():
            parts[source] = parts.get(source, 0.0) + sensitivity * part
    return Measured.of(value, parts)


def total(parts: Iterable[Measured]) -> Measured:
    """Add measured values of one unit, what they share counted as shared.

    Parameters
    ----------
    parts : iterable of Measured
        None at all gives exactly zero.

    Returns
    -------
    Measured
        Σ value with the contributions added source by source, in the unit of the parts [1]_.

    Examples
    --------
    >>> total([Measured(1.0, 0.3), Measured(2.0, 0.4)])
    Measured(value=3.0, u=0.5)
    >>> bag = Measured(2.0, 0.3)
    >>> total([bag, bag])
    Measured(value=4.0, u=0.6)
    """
    listed = list(parts)
    return combined(math.fsum(one.value for one in listed), ((one, 1.0) for one in listed))
