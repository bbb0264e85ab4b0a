"""What is kept of a run besides its mass: draws, checks, settings, refills."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.utils import timezone

from recycling.keeping.lookups import (
    LotFacts,
)
from recycling.keeping.prepared import Prepared
from recycling.ledger.sql import insert
from recycling.models import (
    Feed,
    Run,
    RunCheck,
    RunSetting,
)
from recycling.records.actors import Actor
from recycling.records.runs.entries import RunEntry


def keep_draws(run: Run, drawn: Iterable[tuple[LotFacts, int]]) -> None:
    """Store what a new run drew from each lot."""
    insert(
        "recycling_draw",
        ("id", "run_id", "lot_id", "mass_mg"),
        [(run.pk, lot.lot_id, mass_mg) for lot, mass_mg in drawn],
    )


def keep_log(actor: Actor, run: Run, entry: RunEntry, within: Sequence[bool | None]) -> None:
    """Store the checks and settings of an entry."""
    now = timezone.now()
    stamp = {"run": run, "written_at": now, "actor": actor.reference}
    if entry.settings:
        RunSetting.objects.bulk_create(
            RunSetting(
                key=one.key,
                value=one.value.strip(),
                seen=one.seen,
                happened_at=one.at or entry.started_at,
                **stamp,
            )
            for one in entry.settings
        )
    if entry.checks:
        RunCheck.objects.bulk_create(
            RunCheck(
                key=one.key,
                value=one.value.strip(),
                within=fits,
                happened_at=one.at or entry.ended_at or now,
                **stamp,
            )
            for one, fits in zip(entry.checks, within, strict=True)
        )


def keep_feeds(run: Run, prepared: Prepared) -> None:
    """Store refills in the order fed."""
    Feed.objects.bulk_create(
        Feed(
            run=run,
            lot_id=prepared.lots[feed.lot].lot_id,
            mass_mg=feed.mass_mg,
            happened_at=feed.at,
        )
        for feed in prepared.entry.feeds
    )
