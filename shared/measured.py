"""A value with its standard uncertainty, and how uncertainties combine.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 5.1.2 (independent inputs) and 5.2.2 (correlated inputs).
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

PLAIN = (float, int)


@dataclass(frozen=True, slots=True)
class Measured:
    """A value and its standard uncertainty, both in the same unit.

    The operators treat both sides as independent of each other. A quantity that enters a
    result twice, such as a tare shared by two weighings, goes through `propagate` instead.

    Parameters
    ----------
    value : float
        Best estimate, in the unit that the name of the variable says.
    u : float
        Standard uncertainty (k = 1), same unit, not negative.

    Raises
    ------
    ValueError
        If either is not a finite number, or `u` is negative.

    Notes
    -----
    Sums: u² = u_a² + u_b². Products: u² = (b·u_a)² + (a·u_b)². Ratios:
    u² = (u_a/b)² + (a·u_b/b²)² (GUM 5.1.2 [1]_).

    Examples
    --------
    >>> loss = Measured(12.50, 0.05) - Measured(10.80, 0.05) - Measured(1.10, 0.02)
    >>> f"{loss.value:.3f} ± {loss.u:.3f} kg"
    '0.600 ± 0.073 kg'
    """

    value: float
    u: float = 0.0

    def __post_init__(self) -> None:
        # a report makes hundred thousands of these, of plain numbers nearly all
        value, u = self.value, self.u
        if type(value) in PLAIN and type(u) in PLAIN and 0 <= u < math.inf and _is_finite(value):
            return
        for name in ("value", "u"):
            number = getattr(self, name)
            if isinstance(number, bool) or not _is_finite(number):
                raise ValueError(f"{name} must be a finite number, not {number!r}")
        if self.u < 0:
            raise ValueError(f"a standard uncertainty cannot be negative: {self.u!r}")

    def __add__(self, other: "Measured") -> "Measured":
        return Measured(self.value + other.value, math.hypot(self.u, other.u))

    def __sub__(self, other: "Measured") -> "Measured":
        return Measured(self.value - other.value, math.hypot(self.u, other.u))

    def __neg__(self) -> "Measured":
        return Measured(-self.value, self.u)

    def __mul__(self, other: "Measured") -> "Measured":
        u = math.hypot(other.value * self.u, self.value * other.u)
        return Measured(self.value * other.value, u)

    def __truediv__(self, other: "Measured") -> "Measured":
        if other.value == 0:
            raise ValueError("cannot divide by a measured value of zero")
        ratio = self.value / other.value
        return Measured(ratio, math.hypot(self.u, ratio * other.u) / abs(other.value))

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


def total(parts: Iterable[Measured]) -> Measured:
    """Add independent measured values of one unit.

    Parameters
    ----------
    parts : iterable of Measured
        None at all gives exactly zero.

    Returns
    -------
    Measured
        Σ value and √Σu², in the unit of the parts [1]_.

    Examples
    --------
    >>> total([Measured(1.0, 0.3), Measured(2.0, 0.4)])
    Measured(value=3.0, u=0.5)
    """
    listed = list(parts)
    return Measured(math.fsum(p.value for p in listed), math.hypot(*(p.u for p in listed)))


def propagate(formula: Callable[..., Any], inputs: Mapping[str, Measured]) -> Measured:
    """Put measured inputs through a formula in which any of them may occur more than once.

    Parameters
    ----------
    formula : callable
        Takes the inputs by name, uses ordinary arithmetic, returns one number.
    inputs : mapping of str to Measured
        Each independent of the others; one that occurs twice is the same measurement twice.

    Returns
    -------
    Measured
        First-order propagation with all correlations that come from shared inputs [1]_.

    Raises
    ------
    ValueError
        If the formula divides by zero or its result is not finite.

    Examples
    --------
    A tare taken off both what went in and what came out cancels:

    >>> crate = Measured(500.0, 3.0)
    >>> bags = {"full": Measured(2500.0, 1.0), "rest": Measured(900.0, 1.0), "crate": crate}
    >>> propagate(lambda full, rest, crate: (full - crate) - (rest - crate), bags)
    Measured(value=1600.0, u=1.4142135623730951)
    """
    from uncertainties import nominal_value, std_dev, ufloat

    variables = {name: ufloat(m.value, m.u) if m.u else m.value for name, m in inputs.items()}
    try:
        result = formula(**variables)
    except ZeroDivisionError:
        raise ValueError("the formula divides by a measured value of zero") from None
    return Measured(nominal_value(result), std_dev(result))


def total_with_shared_tares(
    terms: Sequence[tuple[int, Measured, str | None]], tares: Mapping[str, Measured]
) -> Measured:
    """Add signed net masses where several were weighed in the same container.

    Parameters
    ----------
    terms : sequence of (sign, gross, container)
        Sign +1 or −1; the container's name in `tares`, or None where none was taken off.
    tares : mapping of str to Measured
        Tare of each container, same unit as the gross readings.

    Returns
    -------
    Measured
        Σ sign·(gross − tare), same unit. Each tare counts once with its net number of uses,
        u² = Σ u_gross² + Σ (net uses · u_tare)²: the correlated case of GUM 5.2.2 [1]_.

    Raises
    ------
    ValueError
        If a sign is neither +1 nor −1, or a container is not among the tares.

    Examples
    --------
    >>> crate = {"crate": Measured(500.0, 3.0)}
    >>> terms = [(1, Measured(2500.0, 1.0), "crate"), (-1, Measured(900.0, 1.0), "crate")]
    >>> total_with_shared_tares(terms, crate)
    Measured(value=1600.0, u=1.4142135623730951)
    """
    for sign, _, container in terms:
        if sign not in (1, -1):
            raise ValueError(f"a sign is +1 or -1, not {sign!r}")
        if container is not None and container not in tares:
            raise ValueError(f"no tare is known for the container {container!r}")
    inputs = {f"gross_{i}": gross for i, (_, gross, _) in enumerate(terms)}
    names = {container: f"tare_{i}" for i, container in enumerate(tares)}
    inputs |= {names[container]: tare for container, tare in tares.items()}

    def signed_nets(**x: Any) -> Any:
        return sum(
            sign * (x[f"gross_{i}"] - (x[names[box]] if box is not None else 0.0))
            for i, (sign, _, box) in enumerate(terms)
        )

    return propagate(signed_nets, inputs)
