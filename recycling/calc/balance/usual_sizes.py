"""How large figures of a kind usually are here: their mass, or their share of what went in.

The logarithm of a figure is taken to follow a Student's t of four degrees about the median, its
scale 1.4826 times the median absolute deviation [1]_, shrunk to 0.5 as if by four figures more
(own choice: default, not checked). Mass or share: whichever scatters less here.

Sources
-------
.. [1] F. R. Hampel, The influence curve and its role in robust estimation, JASA 69 (1974)
   383-393: the factor that makes the median absolute deviation of a normal one its σ.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

MAD = 1.4826
SHRUNK_TO, SHRUNK_BY = 0.5, 4
UNKNOWN = 1 / math.log(1e4)
"""Density of a logarithm where nothing was seen: even over four powers of ten."""

BESIDE_SHRUNK_TO, BESIDE = 0.05, 0.6
"""Scale of pieces of one run about each other before any were seen; how much that counts."""

Kind = tuple[str, ...]
"""Stage, side, form, and where that matters, the place: what a figure is one of."""

_T4 = 0.375
"""Density of Student's t of four degrees at zero."""


def t_density(z: float) -> float:
    """Density of Student's t of four degrees: 3/8 · (1 + z²/4)^(−5/2).

    Examples
    --------
    >>> t_density(0.0), round(t_density(2.0), 4)
    (0.375, 0.0663)
    """
    return _T4 * (1 + z * z / 4) ** -2.5


@dataclass(frozen=True, slots=True)
class Spread:
    """A location and a scale of logarithms, and from how many figures."""

    middle: float
    scale: float
    figures: int

    def density(self, log: float) -> float:
        """Density of a logarithm, per unit of it."""
        return t_density((log - self.middle) / self.scale) / self.scale


def spread_of(logs: Sequence[float], to: float = SHRUNK_TO, by: float = SHRUNK_BY) -> Spread:
    """Take median and scale of logarithms, the scale shrunk to `to` as if by `by` figures.

    Raises ValueError for no logarithm at all.

    Examples
    --------
    >>> spread_of([1.0, 1.0, 1.0, 1.0])
    Spread(middle=1.0, scale=0.3535533905932738, figures=4)
    """
    middle = median(logs)
    mad = MAD * median(abs(log - middle) for log in logs)
    n = len(logs)
    return Spread(middle, math.sqrt((n * mad**2 + by * to**2) / (n + by)), n)


@dataclass(frozen=True, slots=True)
class Size:
    """How large a kind of figure is, as mass in mg or as share of what went in.

    Attributes
    ----------
    of_mass : Spread
        Of ln(mass in mg).
    of_share : Spread or None
        Of ln(mass / what went in); None where it never went with anything.
    beside : Spread or None
        Of ln(mass / median of its kind in its run), where runs give several.
    """

    of_mass: Spread
    of_share: Spread | None = None
    beside: Spread | None = None

    def density(self, mass_mg: float, went_in_mg: float, others_mg: Sequence[float] = ()) -> float:
        """Density of ln(mass), given what went in and others of its kind in the run."""
        log = math.log(mass_mg)
        general = self.of_mass.density(log)
        if self.of_share and self.of_share.scale < self.of_mass.scale and went_in_mg > 0:
            general = self.of_share.density(log - math.log(went_in_mg))
        middle_mg = median(others_mg) if others_mg else 0.0
        if self.beside is None or middle_mg <= 0:
            return general
        near = self.beside.density(log - math.log(middle_mg))
        return BESIDE * near + (1 - BESIDE) * general

    @property
    def range_mg(self) -> tuple[float, float]:
        """Between which masses nine in ten lie, mg."""
        reach = 2.132 * self.of_mass.scale
        return math.exp(self.of_mass.middle - reach), math.exp(self.of_mass.middle + reach)


class Sizes:
    """What was seen of each kind of figure, by any key, and how large such figures are."""

    def __init__(self) -> None:
        self._logs: dict[Kind, list[float]] = defaultdict(list)
        self._shares: dict[Kind, list[float]] = defaultdict(list)
        self._beside: dict[Kind, list[float]] = defaultdict(list)
        self._kept: dict[Kind, Size] = {}

    def see(self, key: Kind, mass_mg: float, went_in_mg: float) -> None:
        """Remember a figure; one that is not above zero says nothing."""
        if mass_mg <= 0:
            return
        self._logs[key].append(math.log(mass_mg))
        if went_in_mg > 0:
            self._shares[key].append(math.log(mass_mg / went_in_mg))
        self._kept.pop(key, None)

    def see_beside(self, key: Kind, masses_mg: Sequence[float]) -> None:
        """Remember several pieces of one kind in one run."""
        pieces = [one for one in masses_mg if one > 0]
        if len(pieces) > 1:
            middle = median(pieces)
            self._beside[key].extend(math.log(one / middle) for one in pieces)
            self._kept.pop(key, None)

    def of(self, key: Kind) -> Size | None:
        """How large figures of a key are; None where none was seen."""
        if key not in self._logs:
            return None
        if key not in self._kept:
            shares, beside = self._shares.get(key), self._beside.get(key)
            self._kept[key] = Size(
                spread_of(self._logs[key]),
                spread_of(shares) if shares else None,
                spread_of(beside, BESIDE_SHRUNK_TO) if beside else None,
            )
        return self._kept[key]
