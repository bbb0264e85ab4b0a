"""What is said after a hold was placed or released."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class HoldPlaced:
    """Holds that were placed or released.

    Attributes
    ----------
    holds : tuple of int
        Their ids.
    target : str
        Code of the lot or collection.
    with_descendants : bool
        Whether all that descends from it is meant too.
    """

    holds: tuple[int, ...]
    target: str
    with_descendants: bool
