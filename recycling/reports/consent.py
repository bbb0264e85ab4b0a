"""Whether a report may be shown to everybody: whomever it names must agree, now, to be named."""

from __future__ import annotations

from collections.abc import Iterator

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext

from recycling.queries.people.consent import names_agreed
from recycling.records.actors import Actor
from recycling.records.reports.documents import Cell, Table
from recycling.records.reports.files import FrozenReport
from recycling.reports.left import NOT_NAMED

SOURCES, KIND = "collected_by_source", 1
"""The table whose rows name sources; the row of those that are not named has no kind."""

RECEIVERS = {"handed_on": "where", "spools_given": "receiver"}
"""Tables that name receivers, with the column; named are only sources that agreed."""


def may_be_public(actor: Actor, report: FrozenReport) -> bool:
    """Say whether all sources that a frozen report names still let themselves be named.

    Whoever it names under a name that is no longer set up counts as one that does not.
    """
    receivers = set(_receivers(report)) - not_named()
    return {*_sources(report), *receivers} <= names_agreed(actor.workshop_id)


def not_named() -> set[str]:
    """How a report calls a receiver that it does not name, in every language it may be in."""
    said = set()
    for language, _name in settings.LANGUAGES:
        with translation.override(language):
            said.add(gettext(NOT_NAMED))
    return said


def _tables(report: FrozenReport) -> Iterator[Table]:
    for section in report.document.sections:
        yield from section.tables


def _sources(report: FrozenReport) -> Iterator[Cell]:
    if report.question.source:
        yield report.question.source
    for table in _tables(report):
        if table.key == SOURCES:
            yield from (row[0] for row in table.rows if row[KIND])


def _receivers(report: FrozenReport) -> Iterator[Cell]:
    for table in _tables(report):
        if table.key in RECEIVERS:
            keys = [one.key for one in table.columns]
            place = keys.index(RECEIVERS[table.key])
            yield from (row[place] for row in table.rows)
