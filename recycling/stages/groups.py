"""Groups of polymers, and what stages usually take of them."""

from __future__ import annotations

ANY, NEEDS_DRYING, NEEDS_NO_DRYING = "any", "needs drying", "needs no drying"
"""Groups of polymers: all of them, those that take up water from the air, those that do not."""

Usual = tuple[tuple[str, str], ...]
"""Pairs of a form and a group of polymers."""


def usually(*forms: str, of: str = ANY) -> Usual:
    """Pair forms with a group of polymers.

    >>> usually("flake", "pellets", of=NEEDS_DRYING)
    (('flake', 'needs drying'), ('pellets', 'needs drying'))
    """
    return tuple((form, of) for form in forms)


def group_of(needs_drying: bool) -> str:
    """Name the group of a polymer by whether it needs drying."""
    return NEEDS_DRYING if needs_drying else NEEDS_NO_DRYING
