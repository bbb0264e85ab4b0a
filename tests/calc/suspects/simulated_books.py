"""Invented books with a known cause, to see how often the search for it is right.

A book has collections that arrive one after another and spools made from what is in stock at the
time. One collection may be to blame. A part of the spools is judged.
"""

from dataclasses import dataclass

import numpy as np

from recycling.calc.quality.verdicts import Standing
from recycling.calc.suspects.exposure import Shares, dense_shares
from recycling.calc.suspects.next_verdict import verdict_gains
from recycling.calc.suspects.posterior import weigh_suspects
from recycling.calc.suspects.priors import SuspectPriors
from recycling.calc.suspects.ranking import ranking


@dataclass(frozen=True)
class BookPlan:
    """How a simulated book is made.

    Attributes
    ----------
    collections, spools, judged : int
        How many of each.
    least_parts, most_parts : int
        How many collections a spool is made of.
    in_stock : int
        How many collections around the spool's own time it draws from; at least ``most_parts``.
    least_amount, most_amount : float
        Each part of a spool is an amount drawn evenly between these, in any unit of mass.
    spoil_chance : float
        Chance that the cause spoils a spool with ``full_share`` of it or more, in proportion below.
    full_share : float
        Mass fraction.
    background : float
        Chance of a bad spool without the cause.
    """

    collections: int = 40
    spools: int = 80
    judged: int = 25
    least_parts: int = 2
    most_parts: int = 5
    in_stock: int = 8
    least_amount: float = 0.5
    most_amount: float = 1.5
    spoil_chance: float = 0.8
    full_share: float = 0.20
    background: float = 0.03


@dataclass(frozen=True, eq=False)
class SimulatedBook:
    """A simulated book: shares, how every spool truly is, who was judged, and the cause if any."""

    shares: Shares
    bad: np.ndarray
    judged: np.ndarray
    cause: int | None

    @property
    def standing(self):
        """Values of ``Standing`` for each spool, as the workshop knows them."""
        return np.where(self.judged, self.bad.astype(int), int(Standing.NOT_JUDGED))

    @property
    def judged_with_cause(self) -> int:
        """How many judged spools hold any of the cause."""
        if self.cause is None:
            return 0
        holds = self.shares.spool[self.shares.candidate == self.cause]
        return int(self.judged[holds].sum())


@dataclass(frozen=True)
class SearchOutcome:
    """How the search went in one book.

    Attributes
    ----------
    cause_rank : int or None
        Place, as shown, of the line with the true cause; None where there is none or no judged
        spool holds any of it.
    judged_with_cause : int
        Judged spools that hold any of it.
    stated : tuple of (float, bool)
        Posterior of each line, and whether it has the true cause.
    none_posterior : float
        Posterior of "none of these".
    none_leads : bool
        Whether "none of these" is the likeliest reading.
    best_gain_bits, mean_gain_bits : float
        Expected reduction of entropy by the suggested next verdict, and by a random one.
    """

    cause_rank: int | None
    judged_with_cause: int
    stated: tuple[tuple[float, bool], ...]
    none_posterior: float
    none_leads: bool
    best_gain_bits: float
    mean_gain_bits: float


def simulated_book(seed, with_cause=True, plan=None) -> SimulatedBook:
    """Make a book by chance.

    Parameters
    ----------
    seed : int
        Of the random numbers; the same seed gives the same book.
    with_cause : bool
        Whether one of the collections is to blame.
    plan : BookPlan, optional
        How it is made; the defaults where not given.

    Returns
    -------
    SimulatedBook
        The shares of each spool are mass fractions that add up to 1.

    Raises
    ------
    ValueError
        If a spool shall be made of more collections than are in stock or in the book.

    Examples
    --------
    >>> book = simulated_book(seed=1)
    >>> book.shares.spools, book.shares.candidates, int(book.judged.sum())
    (80, 40, 25)
    """
    plan = plan or BookPlan()
    if not plan.most_parts <= plan.in_stock <= plan.collections:
        raise ValueError("a spool is made of what is in stock, and stock of what was collected")
    random = np.random.default_rng(seed)
    matrix = np.zeros((plan.spools, plan.collections))
    for spool in range(plan.spools):
        now = spool * plan.collections // plan.spools - plan.in_stock // 2
        oldest = min(max(now, 0), plan.collections - plan.in_stock)
        parts = random.integers(plan.least_parts, plan.most_parts + 1)
        chosen = oldest + random.choice(plan.in_stock, size=parts, replace=False)
        amount = random.uniform(plan.least_amount, plan.most_amount, size=parts)
        matrix[spool, chosen] = amount / amount.sum()
    cause = int(random.integers(plan.collections)) if with_cause else None
    spoil = np.zeros(plan.spools)
    if cause is not None:
        spoil = plan.spoil_chance * np.minimum(matrix[:, cause] / plan.full_share, 1.0)
    bad = random.random(plan.spools) < 1 - (1 - plan.background) * (1 - spoil)
    judged = np.zeros(plan.spools, dtype=bool)
    judged[random.choice(plan.spools, size=plan.judged, replace=False)] = True
    return SimulatedBook(dense_shares(matrix), bad, judged, cause)


def search_outcome(book: SimulatedBook, priors: SuspectPriors | None = None) -> SearchOutcome:
    """Search a simulated book for its cause and compare with the truth.

    Parameters
    ----------
    book : SimulatedBook
        From ``simulated_book``.
    priors : SuspectPriors, optional
        The assumptions of the search; the defaults where not given.

    Returns
    -------
    SearchOutcome

    Raises
    ------
    ValueError
        If the book has no judged spool, or none that is not.

    Examples
    --------
    >>> search_outcome(simulated_book(seed=3)).cause_rank
    1
    """
    if book.judged.all() or not book.judged.any():
        raise ValueError("the search needs spools that are judged and spools that are not")
    found = weigh_suspects(book.shares, book.standing, priors)
    shown = ranking(found, limit=len(found.posterior))
    ranks = {member: line.rank for line in shown.lines for member in line.members}
    gain, _ = verdict_gains(found, book.shares.of_spools(~book.judged))
    return SearchOutcome(
        cause_rank=None if book.cause is None else ranks.get(book.cause),
        judged_with_cause=book.judged_with_cause,
        stated=tuple((line.posterior, book.cause in line.members) for line in shown.lines),
        none_posterior=shown.none_posterior,
        none_leads=shown.none_posterior >= shown.lines[0].posterior,
        best_gain_bits=float(gain.max()),
        mean_gain_bits=float(gain.mean()),
    )
