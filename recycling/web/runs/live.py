"""A run that goes on: what can be done now, what is set, what is due, and its log."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from recycling.records.actors import Actor
from recycling.records.runs.runs import RunRecord
from recycling.stages import stage
from recycling.stages.declaration import Stage
from recycling.stages.fields import Field
from recycling.web.book_words import said
from recycling.web.pages.read import link
from recycling.web.templatetags.look import mass_text, word_for

LATEST = 4
"""Lines of the log beside the clock; all of it stands further down."""
SEEN = "seen"


@dataclass(frozen=True)
class LogLine:
    """One thing that happened in a run: when, what, and who wrote it."""

    at: datetime
    text: str
    by: str
    note: str = ""


def live(actor: Actor, run: RunRecord) -> dict[str, Any]:
    """Gather what the page of an open run shows first; asks nothing."""
    declared = stage(run.stage)
    if run.state != "open" or declared is None:
        return {}
    return {
        "actions": _actions(actor, declared, run) if actor.may("record") else [],
        "now_set": _now_set(declared, run),
        "due": _due(declared, run),
        "log": sorted(_log(run), key=lambda line: line.at, reverse=True)[:LATEST],
        "seen": _seen(declared) if actor.may("record") else [],
        "note_url": link("run-note", actor, run.code),
    }


def _actions(actor: Actor, declared: Stage, run: RunRecord) -> list[dict[str, Any]]:
    """List what can be done with an open run: closing it is the main thing."""
    spools = any(output.spool for output in declared.gives)
    wanted = [
        ("run-draw", _("Refill") if run.inputs else _("Draw from a lot"), "", False),
        ("run-output", _("Spool change"), "?spool=1", False) if spools else None,
        ("run-output", _("Add an output"), "", False),
        ("run-loss", _("Add a loss"), "", False) if declared.losses else None,
        ("run-note", _("Note a setting or check"), "", False),
        ("run-close", _("Close the run"), "", True),
    ]
    steps = [
        {"url": link(name, actor, run.code) + more, "label": label, "primary": primary}
        for name, label, more, primary in filter(None, wanted)
    ]
    return [step for step in steps if step["url"]]


def _now_set(declared: Stage, run: RunRecord) -> list[dict[str, Any]]:
    """Say what each setting is now, with the field that changes it."""
    last = {one.key: one for one in sorted(run.settings, key=lambda one: one.happened_at)}
    return [{"field": one, "last": last.get(one.key)} for one in declared.settings]


def _due(declared: Stage, run: RunRecord) -> list[Field]:
    noted = {one.key for one in run.checks}
    return [one for one in declared.checks if one.required and one.key not in noted]


def _seen(declared: Stage) -> list[dict[str, str]]:
    """Offer what is often seen by one tap each, where the stage notes what was seen."""
    if all(one.key != SEEN for one in declared.checks):
        return []
    words = (
        _("runs steady"),
        _("bubbles"),
        _("runs thin"),
        _("runs thick"),
        _("dark specks"),
        _("strand broke"),
    )
    return [{"text": word, "key": f"page-{uuid.uuid4().hex}"} for word in words]


def _log(run: RunRecord) -> Iterator[LogLine]:
    for one in run.settings:
        value = f"{one.label}: {one.value} {one.unit}".strip()
        yield LogLine(one.happened_at, value, one.by, one.seen)
    for one in run.checks:
        yield LogLine(one.happened_at, f"{one.label}: {one.value} {one.unit}".strip(), one.by)
    forms = {drawn.lot: drawn.form for drawn in run.inputs}
    forms |= {given.lot: given.form for given in run.outputs}
    for row in run.postings:
        if row.corrects is None and row.account != "process":
            where = row.lot or said(row.account, "account")
            what = f"{said(row.kind, 'posting')}: {mass_text(abs(row.mass_mg))}, {where}"
            form = forms.get(row.lot, "")
            yield LogLine(row.happened_at, what, row.by, word_for(form, "form") if form else "")
