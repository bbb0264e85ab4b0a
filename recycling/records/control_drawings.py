"""What a control chart draws: shares over runs with their limits, in the reader's words."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ControlPoint:
    """One run: its label, its share, its step from the one before, and whether it is outside."""

    label: str
    share: float
    step: float | None
    outside: bool


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Shares over runs above, steps between them below; each with its limits.

    `words` names, in this order: the shares, the steps, the mean, the limits, what is outside.
    """

    title: str
    finding: str
    points: tuple[ControlPoint, ...]
    mean: float
    lower: float
    upper: float
    mean_step: float
    step_upper: float
    words: tuple[str, str, str, str, str]
