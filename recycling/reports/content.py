"""What a report says: everything in it is read here, in the caller's one snapshot."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from recycling.records.actors import Actor
from recycling.records.reports.documents import Document, Section
from recycling.records.reports.question import THANKS, ReportQuestion
from recycling.reports.cohort import cohort_section
from recycling.reports.corrections import corrections_sections
from recycling.reports.counted import sure_of
from recycling.reports.counters import counts_of
from recycling.reports.definitions import definitions
from recycling.reports.fates import followed
from recycling.reports.givers import givers_of, givers_section
from recycling.reports.left import destinations_of, left_section
from recycling.reports.months import months_section, way_section
from recycling.reports.movements import movements
from recycling.reports.places import places_of
from recycling.reports.scope import Scope, scope_of
from recycling.reports.spools import spools_section
from recycling.reports.statement import counters_section, statement_section, statements_of
from recycling.reports.stock import stock_section
from recycling.reports.summary import summary_section
from recycling.reports.thanks import thanks_section
from recycling.reports.trust import trust_section
from recycling.reports.work import energy_section, yields_section


def document_of(actor: Actor, question: ReportQuestion) -> Document:
    """Fill a report; the caller holds one transaction, so that all of it is from one moment.

    Raises
    ------
    Refused
        When the question is wrong, or figures that it rests on are still being recomputed.
    """
    scope = scope_of(actor, question)
    with _without_collector():
        return _document(scope, _sections(scope))


@contextmanager
def _without_collector() -> Iterator[None]:
    """Let nobody look for circles among a report's many objects: there are none, and it is slow.

    Only who found the collector at work sets it to work again, so threads may do this at once.
    """
    at_work = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if at_work:
            gc.enable()


def _sections(scope: Scope) -> tuple[Section, ...]:
    found = movements(scope)
    sure = sure_of(found)
    told = followed(found)
    counts = counts_of(found, sure, told)
    statements, places, givers = statements_of(found), places_of(found), givers_of(scope)
    whole = statements[-1]
    if scope.question.kind == THANKS:
        return (thanks_section(found, counts, whole, places, givers),)
    destinations, corrections = destinations_of(scope), corrections_sections(found)
    return (
        summary_section(found, counts, whole, places, givers, told),
        statement_section(found, statements),
        counters_section(found, counts),
        cohort_section(found, told),
        givers_section(found, givers),
        stock_section(found, whole, places),
        left_section(found, counts, sure, destinations),
        spools_section(found, counts, destinations),
        months_section(found, counts),
        way_section(found),
        yields_section(found, sure),
        energy_section(found, sure),
        trust_section(found, sure, bool(corrections)),
        *corrections,
    )


def _document(scope: Scope, sections: tuple[Section, ...]) -> Document:
    question = scope.question
    return Document(
        kind=question.kind,
        title=question.title or _title(scope),
        subtitle=scope.about,
        workshop=scope.actor.workshop,
        zone=scope.actor.zone,
        language=get_language() or "en",
        start_at=scope.start,
        end_at=scope.end,
        sequence=scope.sequence,
        sections=sections,
        definitions=definitions(),
        signatures=question.signed_by,
    )


def _title(scope: Scope) -> str:
    if scope.question.kind == THANKS:
        return _("Thank you, {source}").format(source=scope.about)
    if scope.about:
        return _("Report on {about}").format(about=scope.about)
    return _("Period report")
