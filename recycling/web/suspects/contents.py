"""What is in one spool: its deviations, its suspects, and each share of what it went through."""

from __future__ import annotations

from itertools import groupby

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from recycling.queries.suspects.spool_contents import spool_contents, spool_suspected
from recycling.records.actors import Actor
from recycling.records.suspects.ranking import Suspects
from recycling.records.suspects.spool_contents import SpoolContents, SpoolPart
from recycling.web.pages.read import csv_answer, csv_url, reading, wants_csv
from recycling.web.suspects import words

MOST_SUSPECTS = 6
LEAST_SHARE, LEAST_POSTERIOR = 0.005, 0.01
EVERY_LINE = 1_000
COLUMNS = ("kind", "candidate", "code", "share", "mass, mg", "least share", "most share")
DEVIATION_COLUMNS = ("run", "stage", "deviation", "lot", "share of the spool that met it", "at")


@reading
def contents(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    table = wants_csv(request)
    if table:
        return _csv(spool_contents(actor, code), table)
    found, evidence = spool_suspected(actor, code, EVERY_LINE)
    context = {
        "nav": "spools",
        "spool": found,
        "kinds": _kinds(found),
        "traces": len(found.parts) - len(_seen(found)),
        "deviations": [
            one for one in found.deviations if one.share is None or one.share >= words.TRACE
        ],
        "suspects": suspects_in(found, evidence),
        "evidence": evidence,
        "main_words": words.main_words(evidence),
        "parts_csv": csv_url(request, "parts"),
        "deviations_csv": csv_url(request, "deviations"),
    }
    return render(request, "suspects/contents.html", context)


def _csv(found: SpoolContents, table: str) -> HttpResponseBase:
    if table == "deviations":
        rows = [
            (one.run, one.stage, words.deviation_said(one), one.lot, _part(one.share), one.at)
            for one in found.deviations
        ]
        return csv_answer(f"deviations-{found.lot}", DEVIATION_COLUMNS, rows)
    return csv_answer(f"contents-{found.lot}", COLUMNS, map(_cells, found.parts))


def _kinds(found: SpoolContents) -> list[dict[str, object]]:
    """Give what is in a spool by kind, without its traces."""
    return [
        {"said": words.KINDS_SAID[kind], "parts": list(parts)}
        for kind, parts in groupby(_seen(found), key=lambda part: part.candidate.kind)
    ]


def _seen(found: SpoolContents) -> list[SpoolPart]:
    """Give what is more than a trace, and what is not known."""
    return [part for part in found.parts if part.share is None or part.share >= words.TRACE]


def _cells(part: SpoolPart) -> tuple[object, ...]:
    one, between = part.candidate, (_part(part.least), _part(part.most))
    said = one.kind, words.candidate_said(one), one.code
    return (*said, _part(part.share), part.mass_mg, *between)


def _part(share: float | None) -> str:
    return "" if share is None else f"{share:.6f}"


def suspects_in(spool: SpoolContents, evidence: Suspects) -> list[dict[str, object]]:
    """Give the lines of the evidence that carry some suspicion and are in this spool."""
    shares = {part.candidate.key: part.share or 0.0 for part in spool.parts}
    found = []
    for row in evidence.rows:
        if row.posterior < LEAST_POSTERIOR:
            continue
        inside = [one for one in row.members if one.key in shares]
        if inside and row.touched_bad and shares[inside[0].key] >= LEAST_SHARE:
            found.append({"row": row, "one": inside[0], "share": shares[inside[0].key]})
    return found[:MOST_SUSPECTS]
