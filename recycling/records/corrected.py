"""What is said after a correction."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Corrected:
    """A correction that was posted.

    Attributes
    ----------
    run : str
        Code of the run.
    posting : int or None
        Id of the posting that was corrected; None for a whole run.
    before_mg, after_mg : int
        What the figure was and is, in mg.
    delta_mg : int
        What was posted on its account, in mg.
    waiting_runs : int
        Runs whose compositions a background job is still bringing up to date.
    """

    run: str
    posting: int | None
    before_mg: int
    after_mg: int
    delta_mg: int
    waiting_runs: int
