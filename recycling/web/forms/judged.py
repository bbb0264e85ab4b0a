"""What a run or a collection comes to, read while it stands: in a rehearsal too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from recycling.queries.runs.runs import run_page
from recycling.records.actors import Actor
from recycling.records.recorded import OriginRecorded, RunRecorded

Recorded = TypeVar("Recorded", RunRecorded, OriginRecorded)


@dataclass(frozen=True)
class Judged(Generic[Recorded]):
    """What was recorded, with how sure it is.

    Attributes
    ----------
    recorded : RunRecorded or OriginRecorded
        What the deed gave.
    sure_mg : dict
        What covers 95 % of the truths of each lot's mass, by its code, mg.
    state : str
        How the run closes: "closed within weighing", "usual", "to look at" or "open"; empty
        where it has nothing to close.
    half_mg : float
        What covers 95 % of the truths of what is unaccounted for, mg.
    """

    recorded: Recorded
    sure_mg: dict[str, float]
    state: str = ""
    half_mg: float = 0.0


def judged(actor: Actor, recorded: Recorded) -> Judged[Recorded]:
    """Read what was just recorded as the book has it now, with its uncertainties."""
    code = recorded.run if isinstance(recorded, OriginRecorded) else recorded.code
    page = run_page(actor, code)
    sure = {
        one.lot: one.covered.half
        for one in page.figures
        if one.lot and one.side == "out" and one.covered
    }
    if page.closure is None or page.closure.covered is None:
        return Judged(recorded, sure)
    return Judged(recorded, sure, page.closure.state, page.closure.covered.half)
