"""What was unusual in a run, in a plain sentence."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class DeviationRow:
    """What a run did otherwise than usual; it stands on all that descends from the run.

    Attributes
    ----------
    key : str
        What kind of deviation it is.
    said : str
        The same in a plain sentence.
    run, stage : str
        Code of the run and its stage.
    lot : str
        Code of the lot that the run drew and that is meant; empty for the run as a whole.
    """

    key: str
    said: str
    run: str
    stage: str
    lot: str
