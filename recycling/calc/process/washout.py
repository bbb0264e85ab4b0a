"""Washout of a barrel: how much of the old material is still in what leaves it.

Masses are in grams. The models are the residence-time distributions of plug flow and of
stirred tanks in series, for a step change of the feed; a real barrel's dead corners empty
more slowly than any of them, so what the operator sees is recorded beside the model.

Sources
-------
.. [1] O. Levenspiel: Chemical Reaction Engineering, 3rd ed., Wiley 1999, ch. 13-14: plug flow
   with a mixed rest, tanks in series.
.. [2] NIST Digital Library of Mathematical Functions, 8.2 and 8.8: incomplete gamma functions
   Q(N, x), and ∫ₓ^∞ Q(N, t) dt = N·Q(N+1, x) − x·Q(N, x).
.. [3] NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.3.1: least squares.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from recycling.calc.guards import finite, not_negative, positive, share, some, whole


@dataclass(frozen=True, slots=True)
class Barrel:
    """A barrel as the washout models see it.

    Attributes
    ----------
    holdup_g : float
        Mass H of melt in it, g, positive.
    plug_share : float
        Share P of it that moves as a plug, 0 to 1; the rest is mixed.
    tanks : int
        Number N of equal stirred tanks that stand for the rest, at least 1.
    """

    holdup_g: float
    plug_share: float = 0.0
    tanks: int = 1

    def __post_init__(self) -> None:
        positive("holdup_g", self.holdup_g)
        share("plug_share", self.plug_share)
        whole("tanks", self.tanks, least=1)


@dataclass(frozen=True, slots=True)
class HoldupFit:
    """Hold-up refitted from use, g; its standard uncertainty (None for one use); the uses."""

    holdup_g: float
    u_holdup_g: float | None
    uses: int


def _tail(mass_g: float, barrel: Barrel) -> float:
    """∫ c/c₀ from `mass_g` to infinity, g: what of the old melt is still to come."""
    from scipy.special import gammaincc

    plug_g = barrel.plug_share * barrel.holdup_g
    mixed_g = barrel.holdup_g - plug_g
    if mass_g < plug_g or mixed_g == 0:
        return max(plug_g - mass_g, 0.0) + mixed_g
    n = barrel.tanks
    x = n * (mass_g - plug_g) / mixed_g
    return mixed_g * float(gammaincc(n + 1, x) - x / n * gammaincc(n, x))


def washout(mass_g: float, barrel: Barrel) -> float:
    """Share of the old material in what leaves the barrel, after a mass was fed.

    Parameters
    ----------
    mass_g : float
        Mass m fed since the change, g, not negative.
    barrel : Barrel
        Hold-up H, plug-flow share P, tanks N.

    Returns
    -------
    float
        c/c₀ = 1 for m < PH, then Q(N, N(m − PH)/((1 − P)H)); with one tank that is
        e^(−(m − PH)/((1 − P)H)) [1]_ [2]_.

    Raises
    ------
    ValueError
        For a negative mass.

    Examples
    --------
    >>> round(washout(191.115, Barrel(41.5)), 5)
    0.01
    """
    from scipy.special import gammaincc

    plug_g = barrel.plug_share * barrel.holdup_g
    if not_negative("mass_g", mass_g) < plug_g:
        return 1.0
    if barrel.plug_share == 1:
        return 0.0
    x = barrel.tanks * (mass_g - plug_g) / (barrel.holdup_g - plug_g)
    return float(gammaincc(barrel.tanks, x))


def _turnovers(residue: float, plug_share: float, tanks: int) -> float:
    """Hold-ups that have to pass until the residue is reached."""
    if not 0 < finite("residue", residue) < 1:
        raise ValueError(f"the residue lies between 0 and 1, not {residue!r}")
    from scipy.special import gammainccinv

    return plug_share + (1 - plug_share) * float(gammainccinv(tanks, residue)) / tanks


def purge_mass_g(residue: float, barrel: Barrel) -> float:
    """Mass to feed until the outflow holds no more than a residue of the old material, g.

    Parameters
    ----------
    residue : float
        Share ε of old material, between 0 and 1, ends left out.
    barrel : Barrel
        Hold-up H, plug-flow share P, tanks N.

    Returns
    -------
    float
        m = H[P + (1 − P)·Q⁻¹(N, ε)/N], g; with one tank Q⁻¹(1, ε) = ln(1/ε) [1]_ [2]_.

    Raises
    ------
    ValueError
        For a residue outside 0 … 1.

    Examples
    --------
    >>> round(purge_mass_g(0.01, Barrel(41.5)), 1), round(purge_mass_g(0.01, Barrel(41.5, 0.5)), 1)
    (191.1, 116.3)
    """
    return barrel.holdup_g * _turnovers(residue, barrel.plug_share, barrel.tanks)


def mean_residue(purged_g: float, next_g: float, barrel: Barrel) -> float:
    """Mean share of old material in what is made after a purge.

    Parameters
    ----------
    purged_g : float
        Mass fed before, g, not negative.
    next_g : float
        Mass of what follows (the next spool), g, positive.
    barrel : Barrel
        Hold-up H, plug-flow share P, tanks N.

    Returns
    -------
    float
        Mean of `washout` over the mass, in closed form: a share [1]_ [2]_.

    Raises
    ------
    ValueError
        If a mass is out of range.

    Examples
    --------
    >>> round(100 * mean_residue(191.115, 1000.0, Barrel(41.5)), 4)
    0.0415
    """
    not_negative("purged_g", purged_g)
    positive("next_g", next_g)
    return (_tail(purged_g, barrel) - _tail(purged_g + next_g, barrel)) / next_g


def refit_holdup(
    uses: Sequence[tuple[float, float]], plug_share: float = 0.0, tanks: int = 1
) -> HoldupFit:
    """Refit the hold-up from purges that were really run.

    Parameters
    ----------
    uses : sequence of (used_g, residue)
        Mass fed until the residue was reached, g, and that residue, a share.
    plug_share, tanks
        As in `Barrel`.

    Returns
    -------
    HoldupFit
        m = H·f(ε) through the origin: H = Σmf/Σf², u² = Σ(m − Hf)²/((n − 1)Σf²) [3]_.

    Raises
    ------
    ValueError
        For no uses, a mass that is not positive, or a residue outside 0 … 1.

    Examples
    --------
    >>> round(refit_holdup([(191.115, 0.01)]).holdup_g, 2)
    41.5
    """
    Barrel(1.0, plug_share, tanks)
    some("uses", uses)
    masses = [positive("used_g", used_g) for used_g, _ in uses]
    turnovers = [_turnovers(residue, plug_share, tanks) for _, residue in uses]
    squares = math.fsum(f * f for f in turnovers)
    holdup_g = math.fsum(m * f for m, f in zip(masses, turnovers, strict=True)) / squares
    if len(uses) == 1:
        return HoldupFit(holdup_g, None, 1)
    misfit = math.fsum((m - holdup_g * f) ** 2 for m, f in zip(masses, turnovers, strict=True))
    return HoldupFit(holdup_g, math.sqrt(misfit / (len(uses) - 1) / squares), len(uses))
