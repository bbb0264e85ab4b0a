"""How runs close, as people and programs see it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.balance.covered import Covered
from recycling.records.setup.practice import PracticeRow


@dataclass(frozen=True)
class LikelySlip:
    """A slip that would explain what is unaccounted for.

    Attributes
    ----------
    kind : str
        "tare forgotten", "tare taken twice", "entered twice", "digits swapped", "factor ten",
        "unit mistaken" or "output left out".
    text : str
        The suspicion in words.
    left_mg : int
        What stays unaccounted once it is put right, mg.
    postings : tuple of int
        Ids of the postings that it may have happened to; empty for an output left out.
    chance : float
        How likely it is among all explanations, 0 to 1; material lost is one of them.
    right_mg : int or None
        What the first of these figures would be, mg; of an output left out about what it weighs.
    run : str
        The run in which that figure stands: this one, or an earlier one that it rests on.
    """

    kind: str
    text: str
    left_mg: int
    postings: tuple[int, ...]
    chance: float = 0.0
    right_mg: int | None = None
    run: str = ""


@dataclass(frozen=True)
class ToCorrect:
    """A figure to look at first: the id of its posting, and what it is.

    Attributes
    ----------
    posting : int
        Id of the posting; a correction names this.
    label : str
        What it is of: a lot with its form, or a loss.
    mass_mg : int
        The figure, mg.
    likely_mg : int or None
        What it would be without the likeliest slip that names it, mg.
    run : str
        The run in which it stands.
    """

    posting: int
    label: str
    mass_mg: int
    likely_mg: int | None = None
    run: str = ""


@dataclass(frozen=True)
class RunClosure:
    """How a closed run closes.

    Attributes
    ----------
    run, stage, polymer, machine : str
        The run's code, stage, polymer and machine.
    ended_at : datetime
        When it ended.
    inputs_mg, unaccounted_mg : int
        What went in, and what is unaccounted for, mg; below zero for a gain.
    u_mg : float
        Standard uncertainty of what is unaccounted for, from all its weighings, mg.
    state : str
        "closed within weighing", "usual", "to look at" or "open".
    direction : str
        "loss", "gain" or "even".
    assumed : bool
        Whether a part of the uncertainty rests on an assumption: no scale named, or a bare
        estimate.
    usual_low_mg, usual_high_mg : int
        Between what is usual to be unaccounted for in such a run here, mg; below zero for a gain.
    usual_runs : int
        From how many earlier runs that is learnt; 0 where it is a first setting.
    sentence : str
        What is unaccounted for and what is usual, in words.
    slips : tuple of LikelySlip
        Of a run that is to be looked at, slips that would explain it, the best first.
    named : bool
        Whether the first slip leads so far that it is named alone.
    to_correct : tuple of ToCorrect
        Figures to look at first.
    covered : Covered or None
        What covers 95 % of the truths of what is unaccounted for, mg.
    """

    run: str
    stage: str
    polymer: str
    machine: str
    ended_at: datetime
    inputs_mg: int
    unaccounted_mg: int
    u_mg: float
    state: str
    direction: str
    assumed: bool
    usual_low_mg: int
    usual_high_mg: int
    usual_runs: int
    sentence: str = ""
    slips: tuple[LikelySlip, ...] = ()
    named: bool = False
    to_correct: tuple[ToCorrect, ...] = ()
    covered: Covered | None = None

    @property
    def gain(self) -> bool:
        """Whether more came out than went in."""
        return self.unaccounted_mg < 0


@dataclass(frozen=True)
class LossDrift:
    """A machine whose losses have moved away from what was usual.

    Attributes
    ----------
    stage, machine : str
        Where; the machine's name, empty where the stage has none.
    now_share, usual_share : float
        What its last runs of the period left unaccounted of what went in, and what was expected.
    sentence : str
        That in words.
    """

    stage: str
    machine: str
    now_share: float
    usual_share: float
    sentence: str


@dataclass(frozen=True)
class Closures:
    """Runs of a period by how they close, the worst first.

    Attributes
    ----------
    within, to_look_at, open : int
        How many runs close within weighing, are to be looked at, and do not close.
    rows : tuple of RunClosure
        A part of the list, the worst first.
    next : str
        Cursor for the rows that follow; empty at the end.
    rests_on : tuple of PracticeRow
        Settings of the workshop that this rests on: its bounds, and what it assumes of masses.
    usual : int
        How many leave no more unaccounted than is usual here.
    drifts : tuple of LossDrift
        Machines whose losses have moved by the end of the period.
    """

    within: int
    to_look_at: int
    open: int
    rows: tuple[RunClosure, ...]
    next: str = ""
    rests_on: tuple[PracticeRow, ...] = ()
    usual: int = 0
    drifts: tuple[LossDrift, ...] = ()
