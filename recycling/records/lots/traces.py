"""A lot's lineage, back and forth."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class TraceLot:
    """A lot of a lineage.

    Attributes
    ----------
    code, form, polymer, role, origin : str
        Its code, what it is, its role, and the code of its origin where it came in as it is.
    made_mg : int
        Mass as made, in mg.
    """

    code: str
    form: str
    polymer: str
    role: str
    origin: str
    made_mg: int


@dataclass(frozen=True)
class TraceRun:
    """A run of a lineage.

    Attributes
    ----------
    code, stage, state : str
        Its code, its stage, and whether it is open or closed.
    at : datetime
        When it ended; its start while it is open.
    """

    code: str
    stage: str
    state: str
    at: datetime


@dataclass(frozen=True)
class TraceEdge:
    """Mass between a run and a lot.

    Attributes
    ----------
    run, lot : str
        Their codes.
    direction : str
        "in" where the run drew from the lot, "out" where it gave the lot.
    mass_mg : int
        Mass in mg.
    role : str
        The lot's role in the run, for "out".
    """

    run: str
    lot: str
    direction: str
    mass_mg: int
    role: str


@dataclass(frozen=True)
class Trace:
    """What a lot comes from, goes into, or both.

    Attributes
    ----------
    lot, direction : str
        The lot asked for, and "ancestors", "descendants" or "both".
    lots, runs, edges : tuple
        What was met, in order of number.
    """

    lot: str
    direction: str
    lots: tuple[TraceLot, ...]
    runs: tuple[TraceRun, ...]
    edges: tuple[TraceEdge, ...]
