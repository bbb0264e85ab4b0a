"""What is believed before any verdict, and how much evidence is asked for: all in one place."""

from dataclasses import dataclass
from math import isfinite


@dataclass(frozen=True)
class SuspectPriors:
    """The assumptions of the search for a cause; each can be changed and is shown with the result.

    The defaults are this project's own choice, not measured values. The background's is wide on
    purpose: a narrow one near zero blames what most spools hold as soon as many spools are bad.
    Raises ValueError for a value outside the range that its line states.

    Attributes
    ----------
    cause_probability : float
        Chance, before any verdict, that one of the candidates spoils spools; above 0, below 1.
        It is spread over the candidates by their weights, evenly unless told otherwise.
    background_alpha, background_beta : float
        Beta distribution of the background b, the chance that a spool is judged bad for a reason
        that is none of the candidates; each at least 0.5. Mean alpha / (alpha + beta).
    spoil_alpha, spoil_beta : float
        Beta distribution of theta, the chance that the cause spoils a fully exposed spool; each
        at least 0.5.
    full_share : float
        Mass fraction from which a spool counts as fully exposed; above 0, at most 1.
    curve_power : float
        Shape of the exposure curve below that; above 0; 1 is in proportion.
    exposed_share : float
        Mass fraction from which a spool counts as exposed in the 2 x 2 tables; above 0, at most 1.
    lead_posterior : float
        Posterior from which the first line is called a suspect; above 0, below 1.
    least_judged, least_bad : int
        Fewer judged spools, or fewer bad spools that hold the first line, are too little evidence;
        each at least 1.

    Examples
    --------
    >>> SuspectPriors().background_mean
    0.1
    >>> SuspectPriors(full_share=0)
    Traceback (most recent call last):
        ...
    ValueError: full_share lies above 0 and at most at 1, not 0
    """

    cause_probability: float = 0.5
    background_alpha: float = 0.5
    background_beta: float = 4.5
    spoil_alpha: float = 2.0
    spoil_beta: float = 1.0
    full_share: float = 0.20
    curve_power: float = 1.0
    exposed_share: float = 0.01
    lead_posterior: float = 0.5
    least_judged: int = 5
    least_bad: int = 2

    def __post_init__(self):
        """Refuse what is out of range, by name."""
        for name in ("cause_probability", "lead_posterior"):
            self._require(name, 0 < getattr(self, name) < 1, "lies above 0 and below 1")
        for name in ("full_share", "exposed_share"):
            self._require(name, 0 < getattr(self, name) <= 1, "lies above 0 and at most at 1")
        for name in ("background_alpha", "background_beta", "spoil_alpha", "spoil_beta"):
            value = getattr(self, name)
            self._require(name, value >= 0.5 and isfinite(value), "is at least 0.5")
        power = self.curve_power
        self._require("curve_power", power > 0 and isfinite(power), "is above 0")
        for name in ("least_judged", "least_bad"):
            self._require(name, getattr(self, name) >= 1, "is at least 1")

    def _require(self, name, holds, rule):
        if not holds:
            raise ValueError(f"{name} {rule}, not {getattr(self, name)}")

    @property
    def background_mean(self) -> float:
        """Mean of the background before any verdict, a chance from 0 to 1."""
        return self.background_alpha / (self.background_alpha + self.background_beta)


USUAL = SuspectPriors(cause_probability=0.4)
"""What a search believes unless it is asked otherwise: rather no cause than one.

One bad spool is the only one of its batch, its run and often its collections; these cannot be told
apart, and at even odds together they led in 7 of 100 invented seasons without any cause, at these
in 1 to 2 (`manage.py seasons`). The order among candidates is the same.
"""
