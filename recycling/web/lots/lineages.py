"""A lot's lineage, back and forth: the drawing and the same as a table."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _

from recycling.queries.lots.traces import trace
from recycling.records.actors import Actor
from recycling.records.lots.traces import Trace
from recycling.tables.csv_text import kilograms
from recycling.web.pages.figures import lineage_drawing, lineage_finding
from recycling.web.pages.read import address_with, csv_answer, csv_url, reading, show, wants_csv

MOST_DRAWN = 300
COLUMNS = (
    "run",
    "stage",
    "run ended at",
    "direction",
    "lot",
    "form",
    "polymer",
    "role",
    "mass, kg",
)


@reading
def lineage(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    directions = {
        "both": _("back and forth"),
        "ancestors": _("back: what it comes from"),
        "descendants": _("forth: what it went into"),
    }
    direction = request.GET.get("direction", "both")
    direction = direction if direction in directions else "both"
    found = trace(actor, code, direction)
    if wants_csv(request):
        return csv_answer(f"lineage-{code}", COLUMNS, _rows(found))
    drawn = len(found.lots) <= MOST_DRAWN
    context: dict[str, Any] = {
        "code": code,
        "trace": found,
        "focus": next(lot for lot in found.lots if lot.code == code),
        "svg": lineage_drawing(actor.slug, found) if drawn else "",
        "finding": lineage_finding(found),
        "runs": _runs(found),
        "directions": [
            {
                "label": label,
                "url": address_with(request, direction=key),
                "current": key == direction,
            }
            for key, label in directions.items()
        ],
        "csv": csv_url(request),
    }
    return show(request, "lots/lineage.html", "spools" if code[0] == "S" else "stock", **context)


def _runs(found: Trace) -> list[dict[str, object]]:
    """Give each run of a lineage with what it drew and what it gave."""
    lots = {lot.code: lot for lot in found.lots}
    edges: dict[tuple[str, str], list[dict[str, object]]] = {}
    for edge in found.edges:
        edges.setdefault((edge.run, edge.direction), []).append(
            {"lot": lots[edge.lot], "mass_mg": edge.mass_mg, "role": edge.role}
        )
    return [
        {
            "run": run,
            "drawn": edges.get((run.code, "in"), []),
            "given": edges.get((run.code, "out"), []),
        }
        for run in found.runs
    ]


def _rows(found: Trace) -> list[tuple[object, ...]]:
    lots = {lot.code: lot for lot in found.lots}
    runs = {run.code: run for run in found.runs}
    return [
        (
            edge.run,
            runs[edge.run].stage,
            runs[edge.run].at,
            edge.direction,
            edge.lot,
            lots[edge.lot].form,
            lots[edge.lot].polymer,
            edge.role,
            kilograms(edge.mass_mg),
        )
        for edge in found.edges
    ]
