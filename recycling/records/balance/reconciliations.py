"""Reconciled figures of a period, as people and programs see them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from math import inf

from recycling.calc.balance.coverage import student_factor


@dataclass(frozen=True)
class TiedFlow:
    """A weighing that is suspected, or cannot be told apart from one that is.

    Attributes
    ----------
    run, lot, kind : str
        Codes of the run and the lot, and what the flow is.
    posting : int or None
        Id of the posting that carries the figure; None for an opening stock.
    measured_mg, reconciled_mg : int
        As weighed, and what all other weighings say, mg.
    """

    run: str
    lot: str
    kind: str
    posting: int | None
    measured_mg: int
    reconciled_mg: int


@dataclass(frozen=True)
class SuspectFlow:
    """A weighing that was set aside, with those that cannot be told apart from it.

    Attributes
    ----------
    z, z_limit : float
        Its test statistic, and the limit then.
    gamma : float
        The global test statistic that still rejected.
    dof : int
        Its degrees of freedom.
    tied : tuple of TiedFlow
        The one set aside first, then all that fit as badly.
    """

    z: float
    z_limit: float
    gamma: float
    dof: int
    tied: tuple[TiedFlow, ...]


@dataclass(frozen=True)
class Reconciled:
    """A reconciliation of a period: asked for, under way, or done.

    Attributes
    ----------
    number : int
        Its number in the workshop.
    start, end : datetime
        The period.
    asked_at : datetime
        When it was asked for.
    asked_by : str
        By whom.
    done_at : datetime or None
        When it was done; None before.
    done_share : float
        How far it is, from 0 to 1.
    failure : str
        What went wrong, in words; empty where nothing did.
    sequence : int
        Last entry of the book that it saw.
    stale : bool
        Whether something was posted since.
    flows, weighed : int
        Flows between lots and runs, and how many of them were weighed.
    gamma, limit, p_value : float or None
        Global test of all weighings: statistic, limit and p-value; None where nothing is weighed
        twice.
    dof : int
        Degrees of freedom of that test.
    passes : bool or None
        Whether weighing alone explains what does not fit; None where nothing can be tested.
    ended : bool
        Whether it does once the suspects are set aside.
    suspects : tuple of SuspectFlow
        Weighings set aside, in order.
    """

    number: int
    start: datetime
    end: datetime
    asked_at: datetime
    asked_by: str
    done_at: datetime | None
    done_share: float
    failure: str
    sequence: int
    stale: bool
    flows: int
    weighed: int
    gamma: float | None
    limit: float | None
    p_value: float | None
    dof: int
    passes: bool | None
    ended: bool
    suspects: tuple[SuspectFlow, ...]


@dataclass(frozen=True)
class ReconciledRow:
    """One flow, as weighed and as reconciled, side by side.

    Attributes
    ----------
    place : int
        Its place in the list.
    kind : str
        "draw", "output", "loss", "opening", "counted" or "stock".
    run, stage, lot, form : str
        The run with its stage, and the lot with its form; empty where there is none.
    posting : int or None
        Id of the posting that carries the figure.
    measured_mg : int or None
        As weighed, mg; None where it was not.
    u_mg : float or None
        Standard uncertainty of that, mg.
    reconciled_mg : int
        Best estimate from all weighings, mg.
    u_reconciled_mg : float
        Standard uncertainty of that, mg.
    z : float or None
        Test statistic; None where nothing tests this weighing.
    suspect : bool
        Whether it was set aside.
    """

    place: int
    kind: str
    run: str
    stage: str
    lot: str
    form: str
    posting: int | None
    measured_mg: int | None
    u_mg: float | None
    reconciled_mg: int
    u_reconciled_mg: float
    z: float | None
    suspect: bool

    @property
    def half_mg(self) -> float | None:
        """Half-interval that covers 95 % of what was weighed, mg; None where it was not."""
        return None if self.u_mg is None else student_factor(inf) * self.u_mg

    @property
    def half_reconciled_mg(self) -> float:
        """Half-interval that covers 95 % of the truths of the best estimate, mg."""
        return student_factor(inf) * self.u_reconciled_mg


@dataclass(frozen=True)
class ReconciliationEntry:
    """A period to reconcile.

    Attributes
    ----------
    start : datetime
        Its start, aware.
    end : datetime
        Its end, not in it, aware.
    """

    start: datetime
    end: datetime
