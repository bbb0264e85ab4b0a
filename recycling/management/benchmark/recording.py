"""Recording a run through its service, against the same statements through the plain driver."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from recycling.management.benchmark.measure import Ratio, interleaved
from recycling.models import Lot
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import DrawEntry, LossEntry, OutputEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_record import run_record

Statement = tuple[str, Any]
DRAWN_MG, FLAKE_MG, COARSE_MG, DUST_MG = 100_000, 191_200, 8_100, 400
BEGIN = {"sqlite": "BEGIN IMMEDIATE", "postgresql": "BEGIN"}
CHECK_NOW = "SET CONSTRAINTS ALL IMMEDIATE"


def record_ratios(actor: Actor, cases: int) -> list[Ratio]:
    """Measure a run of six postings: two draws, two lots, a loss, and what closes it."""
    entry, counters = six_postings(actor), _counters()
    with _noted() as statements:
        _recorded(actor, entry)
    return [
        interleaved(
            "record a run of six postings",
            f"its {len(statements)} statements, plain driver",
            lambda _: _recorded(actor, entry),
            lambda _: _replayed(statements),
            range(cases),
            goal=2.0,
            note="both in one transaction, checked as at commit, then rolled back",
            before=lambda: _rewind(counters),
        )
    ]


def six_postings(actor: Actor) -> RunEntry:
    """Make an entry that this book can take now."""
    lots = Lot.objects.filter(
        workshop_id=actor.workshop_id,
        form="clean bottles",
        account__balance_mg__gte=2 * DRAWN_MG,
    )
    codes = list(lots.order_by("-number").values_list("code", flat=True)[:2])
    assert len(codes) == 2, "two lots of clean bottles are on hand"
    now = timezone.now()
    return RunEntry(
        "shred",
        now - timedelta(minutes=30),
        now,
        machine="shredder",
        inputs=tuple(DrawEntry(code, DRAWN_MG) for code in codes),
        outputs=(OutputEntry("flake", FLAKE_MG), OutputEntry("oversize", COARSE_MG)),
        losses=(LossEntry("dust", DUST_MG),),
    )


def _recorded(actor: Actor, entry: RunEntry) -> None:
    with transaction.atomic():
        done = run_record(actor, entry)
        _check_now()
        transaction.set_rollback(True)
    assert done.unaccounted_mg == 2 * DRAWN_MG - FLAKE_MG - COARSE_MG - DUST_MG


def _check_now() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(CHECK_NOW)


@contextmanager
def _noted() -> Iterator[list[Statement]]:
    """Note every statement with its values."""
    noted: list[Statement] = []

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        assert not many, "one statement at a time"
        if not sql.startswith("BEGIN"):
            noted.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield noted


def _replayed(statements: list[Statement]) -> None:
    """Run statements with the same values through the plain driver, and roll them back."""
    inside = connection.in_atomic_block
    cursor = connection.connection.cursor()
    cursor.execute("SAVEPOINT replay" if inside else BEGIN[connection.vendor])
    for sql, params in statements:
        if connection.vendor == "sqlite" and params is not None:
            sql = sql.replace("%s", "?").replace("%%", "%")
        cursor.execute(sql, params) if params is not None else cursor.execute(sql)
        if cursor.description is not None:
            cursor.fetchall()
    cursor.execute("ROLLBACK TO SAVEPOINT replay" if inside else "ROLLBACK")
    cursor.close()


def _counters() -> list[tuple[str, int | None]]:
    """Read where the counters of keys stand; SQLite rolls its own back."""
    if connection.vendor != "postgresql":
        return []
    with connection.cursor() as cursor:
        cursor.execute("SELECT schemaname || '.' || sequencename, last_value FROM pg_sequences")
        return cursor.fetchall()


def _rewind(counters: list[tuple[str, int | None]]) -> None:
    """Set the counters back, so that the same rows get the same keys again."""
    with connection.cursor() as cursor:
        for name, last in counters:
            if last is not None:
                cursor.execute("SELECT setval(%s, %s)", [name, last])
            else:
                cursor.execute("SELECT setval(%s, 1, false)", [name])
