"""How long dried material on a way lay open before it was fed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from recycling.queries.lots.run_paths import Way
from recycling.stages import DRYING, Keys

FEEDING = Keys(lambda one: one.works and not one.dries)
"""Stages that do something to the material, for which it may have been dried."""

DRIED = frozenset({"dried flake", "pellets"})

Checks = Mapping[tuple[int, str], tuple[str, bool | None]]


def dried_feeds(way: Way) -> list[tuple[int, int]]:
    """List runs that drew dried material on the way, each with the lot it drew."""
    return [
        (run_id, lot_id)
        for run_id, draws in way.draws.items()
        if way.runs[run_id].stage in FEEDING
        for lot_id, _ in draws
        if way.lots[lot_id].form in DRIED and dried_here(way, lot_id)
    ]


def lot_open_h(
    way: Way,
    lot_id: int,
    fed: datetime,
    checks: Checks,
    events: Mapping[int, Sequence[tuple[datetime, int, str]]],
    limit_h: float,
) -> float | None:
    """Say how long dried material lay open until it was fed; None where it is not recorded."""
    maker = way.lots[lot_id].maker
    dried = way.runs[maker]
    kept, _ = checks.get((maker, "kept"), ("", None))
    told = [(kind, at) for at, _, kind in sorted(events.get(lot_id, ()))]
    return _open_h(dried.ended_at or dried.started_at, fed, kept, told, limit_h)


def dried_here(way: Way, lot_id: int) -> bool:
    """Say whether a lot came out of a dryer."""
    made = way.runs.get(way.lots[lot_id].maker)
    return made is not None and made.stage in DRYING


def _open_h(
    start: datetime, fed: datetime, kept: str, events: list[tuple[str, datetime]], limit_h: float
) -> float | None:
    """Add up the time not sealed from the end of drying to the feed, in hours."""
    if not kept and not events:
        return None if fed - start > timedelta(hours=limit_h) else 0.0
    is_open, since, total = kept != "sealed", start, timedelta(0)
    for kind, at in events:
        if not start <= at <= fed:
            continue
        if kind == "opened" and not is_open:
            is_open, since = True, at
        elif kind == "sealed" and is_open:
            is_open, total = False, total + (at - since)
    if is_open:
        total += max(fed - since, timedelta(0))
    return total.total_seconds() / 3600
