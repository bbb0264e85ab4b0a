"""Holds in force and released ones."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase

from recycling.queries.lots.holds import holds as holds_query
from recycling.records.actors import Actor
from recycling.records.lots.lots import HoldRow
from recycling.web.pages.read import (
    address_with,
    csv_answer,
    csv_url,
    link,
    reading,
    show,
    wants_csv,
)

COLUMNS = (
    "lot",
    "form",
    "with descendants",
    "reason",
    "placed by",
    "placed at",
    "released at",
    "released by",
    "why released",
)


@reading
def holds(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    active = request.GET.get("state") != "released"
    rows = holds_query(actor, active)
    if wants_csv(request):
        return csv_answer(f"holds-{actor.slug}", COLUMNS, map(_cells, rows))
    may_release = actor.may("release")
    context: dict[str, Any] = {
        "active": active,
        "holds": [
            {"row": row, "url": link("hold-release", actor, row.hold) if may_release else ""}
            for row in rows
        ],
        "other_url": address_with(request, state="released" if active else ""),
        "csv": csv_url(request),
    }
    return show(request, "lots/holds.html", "holds", **context)


def _cells(row: HoldRow) -> tuple[object, ...]:
    return (
        row.lot,
        row.form,
        row.with_descendants,
        row.reason,
        row.placed_by,
        row.placed_at,
        row.released_at,
        row.released_by,
        row.release_reason,
    )
