"""Which candidate spoilt the spools: the question, the answer, and what one spool is made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from recycling.calc.suspects.priors import USUAL, SuspectPriors
from recycling.records.setup.practice import PracticeRow

KINDS = ("origin", "lot", "run", "machine", "heel", "open", "limit", "setting", "deviation")
"""What can be a candidate: a collection or purchase, a lot on the way, a run such as a dryer batch,
a machine, a heel of another polymer, the time left open, a limit of the plastic that was not kept,
a band of a setting, a deviation. People are none."""


@dataclass(frozen=True)
class SuspectQuestion:
    """Which judged spools to look at, and which kinds of candidates.

    Attributes
    ----------
    defects : tuple of str
        Only these defects count as bad; spools bad for another reason are left out. Empty for any.
    polymer : str
        Only spools of this polymer; empty for any.
    spools : tuple of str
        Only these spools, by code; empty for all.
    start, end : datetime or None
        Only spools made from the start on and before the end.
    kinds : tuple of str
        Kinds of candidates: "origin", "lot", "run", "machine", "heel", "open", "limit",
        "setting", "deviation"; empty for all.
    """

    defects: tuple[str, ...] = ()
    polymer: str = ""
    spools: tuple[str, ...] = ()
    start: datetime | None = None
    end: datetime | None = None
    kinds: tuple[str, ...] = ()


@dataclass(frozen=True)
class Candidate:
    """Something that spools have in common.

    Attributes
    ----------
    key : str
        Its name in addresses and requests, as "lot:L345-L" or "machine:7".
    kind : str
        One of the kinds of candidates.
    code : str
        Code of the origin, lot or run that it is; empty for others.
    name : str
        What it is called: source, form, stage, machine, polymer, band.
    at : datetime or None
        When it came in, was made or ended.
    """

    key: str
    kind: str
    code: str
    name: str
    at: datetime | None = None


@dataclass(frozen=True)
class SuspectRow:
    """One line of the ranking: a candidate, or several that no judged spool tells apart.

    Attributes
    ----------
    rank : int
        Place from 1.
    members : tuple of Candidate
        What cannot be told apart.
    posterior : float
        Chance that the cause is in this line, 0 to 1, under the stated assumptions.
    bayes_factor_log10 : float
        Decimal logarithm of the evidence for the line against "none of these".
    spoil_chance : float
        Expected chance, 0 to 1, that it spoils a fully exposed spool, were it the cause.
    exposed_bad, exposed_good, unexposed_bad, unexposed_good : int
        The plain table, counts of spools.
    odds_ratio : float or None
        Of that table; None where no finite one exists.
    p_value, adjusted_p_value : float
        Fisher's exact test, two-sided, and its Benjamini-Hochberg adjusted value.
    touched_bad, touched_good : int
        Bad and good spools with any share of it: what the line rests on.
    """

    rank: int
    members: tuple[Candidate, ...]
    posterior: float
    bayes_factor_log10: float
    spoil_chance: float
    exposed_bad: int
    exposed_good: int
    unexposed_bad: int
    unexposed_good: int
    odds_ratio: float | None
    p_value: float
    adjusted_p_value: float
    touched_bad: int
    touched_good: int


@dataclass(frozen=True)
class JudgedSpool:
    """A judged spool that the search rests on.

    Attributes
    ----------
    lot : str
        Its code.
    standing : str
        "good", "bad" or "contradictory".
    good, bad : int
        How many people called it so, each counted once.
    share : float or None
        Share of the first line in it; None where there is no line or it is not known.
    rests_on : str
        What that share rests on: "feed order", "stated order", "well mixed" where a person chose
        that, or "order not known"; empty where it was never melted here.
    """

    lot: str
    standing: str
    good: int
    bad: int
    share: float | None
    rests_on: str = ""


@dataclass(frozen=True)
class VerdictWanted:
    """An unjudged spool or retained sample whose verdict would tell something.

    Attributes
    ----------
    lot : str
        Its code.
    gain_bits : float
        Expected reduction of the uncertainty about the cause, in bits.
    bad_chance : float
        Chance that it is bad, 0 to 1.
    place : str
        Where it is, as far as the book knows.
    """

    lot: str
    gain_bits: float
    bad_chance: float
    place: str


@dataclass(frozen=True)
class LeftOut:
    """What the search did not count, in spools and verdicts.

    Attributes
    ----------
    contradictory : int
        Spools called both good and bad.
    other_defects : int
        Spools that are bad for another reason than the defect asked for.
    void : int
        Judged spools of runs that were voided.
    waiting : int
        Verdicts that the workshop has not looked at yet.
    unknown : tuple of str
        Codes that name no judged spool here.
    """

    contradictory: int = 0
    other_defects: int = 0
    void: int = 0
    waiting: int = 0
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True)
class Suspects:
    """What the verdicts say of all candidates: suspicion with its grounds, never proof.

    Attributes
    ----------
    state : str
        How far the verdicts carry: "no_verdicts", "only_contradictory", "no_candidates",
        "only_good", "only_bad", "no_contrast", "too_little", "none_leads", "undecided", "suspect".
    words : tuple of str
        The same in sentences, the main one first.
    rows : tuple of SuspectRow
        The first lines in order.
    lines_in_all : int
        Lines in any judged spool, shown or not.
    none_posterior : float
        Chance that none of the candidates is the cause, 0 to 1.
    others_posterior : float
        Chance of the lines that are not shown, 0 to 1.
    unseen, unseen_posterior : int, float
        Candidates that no judged spool holds, and the chance of all of those together.
    bad_spools, good_spools, unlike_twins : int
        Spools it rests on; good ones that have a bad one of equal exposures.
    left_out : LeftOut
        What was not counted.
    wanted : tuple of VerdictWanted
        Unjudged spools whose verdicts would tell the most, the best first.
    spools : tuple of JudgedSpool
        The judged spools, those with the largest share of the first line first.
    question : SuspectQuestion
        What was asked.
    priors : SuspectPriors
        What was believed beforehand.
    rests_on : tuple of PracticeRow
        Settings of the workshop that make the bands; none in findings kept before they were.
    by_shift : bool
        Whether who was at work parts bad spools from good ones, and nothing else that is recorded
        does: then what was done differs between shifts. Nobody is named.
    """

    state: str
    words: tuple[str, ...]
    rows: tuple[SuspectRow, ...]
    lines_in_all: int
    none_posterior: float
    others_posterior: float
    unseen: int
    unseen_posterior: float
    bad_spools: int
    good_spools: int
    unlike_twins: int
    left_out: LeftOut
    wanted: tuple[VerdictWanted, ...]
    spools: tuple[JudgedSpool, ...]
    question: SuspectQuestion = field(default_factory=SuspectQuestion)
    priors: SuspectPriors = USUAL
    rests_on: tuple[PracticeRow, ...] = ()
    by_shift: bool = False
