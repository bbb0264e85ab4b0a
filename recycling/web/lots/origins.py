"""Collections, purchases and opening counts, and what became of every gram."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _

from recycling.queries.lots.origins import origin_page, origin_spools, origins_page
from recycling.queries.setup.register import programmes, sources
from recycling.records.actors import Actor
from recycling.records.lots.origin_entries import OriginTexts
from recycling.records.lots.origins import OriginRecord, OriginRow, SpoolShare
from recycling.records.paging import Page
from recycling.tables.csv_text import kilograms
from recycling.web.book_words import ORIGINS
from recycling.web.forms.declared import words_of
from recycling.web.pages.figures import fate
from recycling.web.pages.read import (
    EXPORT_LIMIT,
    LIST_LIMIT,
    Choice,
    Filter,
    all_rows,
    chosen,
    csv_answer,
    csv_url,
    days_asked,
    link,
    pager,
    reading,
    show,
    wants_csv,
)
from shared.declared import texts_of

COLUMNS = ("code", "kind", "source", "programme", "supplier", "came in at", "mass, kg", "bags")
FATE_COLUMNS = ("where it is", "detail", "mass, kg", "share")
SPOOL_COLUMNS = ("spool", "polymer", "made at", "mass, kg", "of it from here, kg", "share")


@reading
def collections(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    wanted, filters = _filters(request, actor)
    if wants_csv(request):

        def ask(after: str) -> Page[OriginRow]:
            return origins_page(actor, **wanted, after=after, limit=EXPORT_LIMIT)

        return csv_answer(f"collections-{actor.slug}", COLUMNS, map(_cells, all_rows(ask)))
    page = origins_page(actor, **wanted, after=request.GET.get("after", ""), limit=LIST_LIMIT)
    context: dict[str, Any] = {
        "page": page,
        "pager": pager(request, page),
        "filters": filters,
        "filtered": bool(request.GET),
        "csv": csv_url(request),
        "new": _new(actor),
    }
    return show(request, "lots/collections.html", "collections", **context)


def _filters(request: HttpRequest, actor: Actor) -> tuple[dict[str, Any], list[Filter]]:
    kinds = (Choice("", _("all")), *(Choice(key, str(word)) for key, word in ORIGINS.items()))
    givers = (Choice("", _("any source")), *(Choice(s.name, s.name) for s in sources(actor)))
    aims = (Choice("", _("any programme")), *(Choice(p.name, p.name) for p in programmes(actor)))
    wanted = {
        "kind": chosen(request, "kind", kinds),
        "source": chosen(request, "source", givers),
        "programme": chosen(request, "programme", aims),
        "text": request.GET.get("text", "")[:80],
    }
    within, days = days_asked(request)
    filters = [
        Filter("kind", _("Kind"), wanted["kind"], kinds),
        Filter("source", _("Source"), wanted["source"], givers),
        Filter("programme", _("Programme"), wanted["programme"], aims),
        Filter("text", _("Code, source or note"), wanted["text"]),
        *days,
    ]
    return {**wanted, **within}, filters


def _new(actor: Actor) -> list[dict[str, str]]:
    """List what can be recorded from here."""
    wanted = (
        ("collection-new", _("Record a collection")),
        ("purchase-new", _("Record a purchase")),
        ("opening-new", _("Record an opening count")),
    )
    links = [{"url": link(name, actor), "label": label} for name, label in wanted]
    return [one for one in links if one["url"]] if actor.may("record") else []


def _cells(row: OriginRow) -> tuple[object, ...]:
    return (
        row.code,
        row.kind,
        row.source,
        row.programme,
        row.supplier,
        row.happened_at,
        kilograms(row.mass_mg),
        row.lots,
    )


LAID = ("supplier", "note")
"""Texts whose place the page of a collection gives by hand."""


@reading
def collection(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    if wants_csv(request) == "spools":
        rows = map(_spool_cells, origin_spools(actor, code))
        return csv_answer(f"spools-of-{code}", SPOOL_COLUMNS, rows)
    record = origin_page(actor, code)
    if wants_csv(request):
        return csv_answer(f"fate-of-{code}", FATE_COLUMNS, _fate_rows(record))
    context: dict[str, Any] = {
        "origin": record,
        "told": [
            (words_of(OriginTexts, name)["label"], told)
            for name, told in texts_of(OriginTexts, record).items()
            if told and name not in LAID
        ],
        "figure": fate(record) if record.fate else None,
        "fate_mg": sum(line.mass_mg for line in record.fate),
        "spools": origin_spools(actor, code),
        "facts_url": link("collection-facts", actor, code) if actor.may("correct") else "",
        "hold_url": link("lot-hold", actor, code) if actor.may("hold") else "",
        "fate_csv": csv_url(request, "fate"),
        "spools_csv": csv_url(request, "spools"),
    }
    return show(request, "lots/collection.html", "collections", **context)


def _spool_cells(spool: SpoolShare) -> tuple[object, ...]:
    return (
        spool.lot,
        spool.polymer,
        spool.made_at,
        kilograms(spool.mass_mg),
        kilograms(spool.part_mg),
        f"{spool.share:.9f}",
    )


def _fate_rows(record: OriginRecord) -> list[tuple[object, ...]]:
    return [
        (line.place, line.detail, kilograms(line.mass_mg), f"{line.share:.9f}")
        for line in record.fate
    ]
