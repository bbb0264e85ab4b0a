"""A workshop's lineage as W3C PROV-JSON (Member Submission, 24 April 2013): lots, runs, roles."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from recycling.records.exchange.exports import Exported, ExportRun
from recycling.records.lots.traces import TraceEdge, TraceLot
from recycling.tables.exchange.epcis_heads import WORDS, Names

Part = dict[str, Any]
Line = tuple[str, str, Part]


def prov_lines(found: Exported) -> Iterator[str]:
    """Write a PROV document piece by piece; together the pieces are one JSON text."""
    names = Names(found.identity, found.slug, found.address)
    yield '{"prefix": ' + json.dumps(_prefixes(names), ensure_ascii=False)
    open_part = ""
    for part, key, said in _lines(found):
        if part != open_part:
            yield ("}" if open_part else "") + f',\n"{part}": {{\n'
        else:
            yield ",\n"
        open_part = part
        yield f"{json.dumps(key)}: {json.dumps(said, ensure_ascii=False, allow_nan=False)}"
    yield ("}" if open_part else "") + "\n}\n"


def _prefixes(names: Names) -> dict[str, str]:
    """Name spaces; what follows the prefix is a code, so that every name can be read."""
    here = names.lasting("names")
    kinds = {kind: f"{here}#{kind}/" for kind in ("lot", "run", "role")}
    return {"book": WORDS, "workshop": f"{here}#workshop/", **kinds}


def _lines(found: Exported) -> Iterator[Line]:
    """Give every line, those of one part together."""
    for lot in found.trace.lots:
        yield "entity", f"lot:{lot.code}", _entity(found, lot)
    for run in found.trace.runs:
        yield "activity", f"run:{run.code}", _activity(found.runs[run.code])
    yield from _agents(found)
    for edge in found.trace.edges:
        if edge.direction == "in":
            yield "used", f"_:used-{edge.run}-{edge.lot}", _edge(found, edge)
    for edge in found.trace.edges:
        if edge.direction == "out":
            yield "wasGeneratedBy", f"_:made-{edge.run}-{edge.lot}", _edge(found, edge)
    yield from _derived(found)
    yield from _worked(found)


def _entity(found: Exported, lot: TraceLot) -> Part:
    known = found.lots[lot.code]
    said = {
        "form": lot.form,
        "polymer": lot.polymer,
        "colour": known.colour,
        "role": lot.role,
        "origin": lot.origin,
    }
    kind = {"$": "book:spool" if known.spool else "book:lot", "type": "xsd:QName"}
    entity: Part = {"prov:type": kind, "prov:label": lot.code, "book:made_mg": lot.made_mg}
    return entity | {f"book:{word}": value for word, value in said.items() if value}


def _activity(run: ExportRun) -> Part:
    said: Part = {"prov:startTime": run.started_at.isoformat()}
    if run.ended_at is not None:
        said["prov:endTime"] = run.ended_at.isoformat()
    return said | {
        "prov:label": run.code,
        "prov:type": {"$": "book:run", "type": "xsd:QName"},
        "book:stage": run.stage,
        "book:state": run.state,
    }


def _agents(found: Exported) -> Iterator[Line]:
    """Name the workshop and roles, never people."""
    yield (
        "agent",
        "workshop:here",
        {"prov:type": {"$": "prov:Organization", "type": "xsd:QName"}, "prov:label": found.slug},
    )
    for role in sorted({role for run in found.runs.values() for role in run.roles}):
        kind = {"$": "book:member", "type": "xsd:QName"}
        yield "agent", f"role:{role}", {"prov:type": kind, "prov:label": role}


def _edge(found: Exported, edge: TraceEdge) -> Part:
    run = found.runs[edge.run]
    at = run.ended_at or run.started_at
    said: Part = {"prov:activity": f"run:{edge.run}", "prov:entity": f"lot:{edge.lot}"}
    if edge.direction == "out":
        said["prov:time"] = at.isoformat()
    return said | {"book:mass_mg": edge.mass_mg}


def _derived(found: Exported) -> Iterator[Line]:
    """Derive each lot from every lot that its run drew on."""
    drawn: dict[str, list[str]] = defaultdict(list)
    for edge in found.trace.edges:
        if edge.direction == "in":
            drawn[edge.run].append(edge.lot)
    for edge in found.trace.edges:
        for lot in drawn[edge.run] if edge.direction == "out" else ():
            yield (
                "wasDerivedFrom",
                f"_:from-{edge.lot}-{lot}",
                {
                    "prov:generatedEntity": f"lot:{edge.lot}",
                    "prov:usedEntity": f"lot:{lot}",
                    "prov:activity": f"run:{edge.run}",
                },
            )


def _worked(found: Exported) -> Iterator[Line]:
    for run in found.trace.runs:
        for role in found.runs[run.code].roles:
            said = {"prov:activity": f"run:{run.code}", "prov:agent": f"role:{role}"}
            yield "wasAssociatedWith", f"_:worked-{run.code}-{role}", said
