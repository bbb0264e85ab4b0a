"""How sure a stated figure is, as people and programs see it."""

from __future__ import annotations

from dataclasses import dataclass

BECAUSE = "because"
"""Key of the column that says what the half-intervals of a table rest on."""


@dataclass(frozen=True)
class Covered:
    """What lies around a figure: its half-interval covers 95 % of the truths.

    Attributes
    ----------
    half, u : float
        95 % half-interval and standard uncertainty, in the unit of the figure.
    k : float
        Coverage factor, half over u; 0 for an exact figure.
    freedom : float or None
        Effective degrees of freedom; None where nothing was estimated from few.
    because : tuple of str
        The two largest components in words, with their shares of the variance.
    """

    half: float
    u: float
    k: float
    freedom: float | None
    because: tuple[str, ...] = ()

    def said(self, decimal: str = ".") -> str:
        """Say in one line what the half-interval rests on; empty for an exact figure.

        Examples
        --------
        >>> Covered(2.8, 1.0, 2.776, 4.0, ("99 % from the mean of the sample",)).said()
        'k = 2.78, ν = 4; 99 % from the mean of the sample'
        """
        if not self.u:
            return ""
        freedom = "∞" if self.freedom is None else f"{self.freedom:.3g}"
        factor = f"k = {self.k:.2f}, ν = {freedom}".replace(".", decimal)
        return "; ".join((factor, *self.because))
