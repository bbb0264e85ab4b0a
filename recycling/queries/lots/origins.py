"""Collections, purchases and opening counts, and who is in a lot."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, TypedDict

from django.db.models import Count, Q, Sum

from recycling.calc.lots.custody import claim
from recycling.calc.lots.feed_order import NOT_KNOWN, WELL_MIXED
from recycling.ledger.sql import moment, rows
from recycling.models import Lot, Origin, Run
from recycling.queries.lots.changes import changes_of
from recycling.queries.lots.fates import fate_of
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.queries.lots.lots import lot_of, rows_of
from recycling.queries.paging import checked_limit, cursor_for, number_of, within
from recycling.queries.people.names import name_behind, named
from recycling.records.actors import Actor
from recycling.records.lots.origin_entries import OriginTexts
from recycling.records.lots.origins import (
    LotOrigins,
    OriginPart,
    OriginRecord,
    OriginRow,
    SpoolShare,
)
from recycling.records.paging import Page
from shared.codes import read_code
from shared.declared import texts_of
from shared.errors import Unknown
from shared.said import say

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class _Received(TypedDict):
        by: str | None


_WHO_IS_IN = """
SELECT l.form, l.made_mg, r.composition_model, r.state, l.traces_mg, l.stale,
       o.kind, o.code, COALESCE(s.name, o.supplier), o.happened_at, c.mass_mg
  FROM recycling_lot l JOIN recycling_run r ON r.account_id = l.made_by_id
  LEFT JOIN recycling_composition c ON c.lot_id = l.account_id
  LEFT JOIN recycling_origin o ON o.id = c.origin_id
  LEFT JOIN recycling_source s ON s.id = o.source_id
 WHERE l.workshop_id = %s AND l.code = %s
 ORDER BY c.mass_mg DESC, c.origin_id
"""
_SPOOLS_OF = """
WITH RECURSIVE down(run_id) AS (
  SELECT r.account_id FROM recycling_origin o JOIN recycling_run r ON r.origin_id = o.id
   WHERE o.workshop_id = %s AND o.code = %s
  UNION
  SELECT d.run_id FROM down
    JOIN recycling_lot l ON l.made_by_id = down.run_id
    JOIN recycling_draw d ON d.lot_id = l.account_id AND d.mass_mg > 0
)
SELECT l.code, l.polymer, l.made_mg, COALESCE(c.mass_mg, 0), r.ended_at
  FROM down JOIN recycling_run r ON r.account_id = down.run_id
  JOIN recycling_lot l ON l.made_by_id = down.run_id AND l.made_mg > 0
  JOIN recycling_spool s ON s.lot_id = l.account_id
  JOIN recycling_origin o ON o.workshop_id = %s AND o.code = %s
  LEFT JOIN recycling_composition c ON c.lot_id = l.account_id AND c.origin_id = o.id
 ORDER BY l.number
"""


def origin_of(actor: Actor, code: str) -> WithAnnotations[Origin, _Received]:
    """Find an origin of the actor's workshop, or say that there is none."""
    origin = (
        Origin.objects.select_related("source", "programme", "run")
        .annotate(by=name_behind("received_by"))
        .filter(workshop_id=actor.workshop_id, code=read_code(code) or code)
        .first()
    )
    if origin is None:
        raise Unknown.because(
            "origin-unknown", say("There is no collection “{code}” here.", code=code)
        )
    return origin


def origins_page(
    actor: Actor,
    kind: str = "",
    source: str = "",
    programme: str = "",
    text: str = "",
    after: str = "",
    limit: int = 50,
    start: datetime | None = None,
    end: datetime | None = None,
) -> Page[OriginRow]:
    """List origins, newest first."""
    origins = Origin.objects.filter(workshop_id=actor.workshop_id)
    origins = origins.filter(within("happened_at", start, end))
    for name, value in (
        ("kind", kind),
        ("source__name", source),
        ("programme__name", programme),
    ):
        if value:
            origins = origins.filter(**{name: value})
    if text:
        found = Q(code__icontains=read_code(text) or text) | Q(note__icontains=text)
        origins = origins.filter(found | Q(source__name__icontains=text))
    before, limit = number_of(after), checked_limit(limit)
    if before is not None:
        origins = origins.filter(number__lt=before)
    rows = list(
        origins.order_by("-number")
        .annotate(mass_mg=Sum("lots__made_mg"), bags=Count("lots"))
        .values_list(
            "code",
            "kind",
            "source__name",
            "programme__name",
            "supplier",
            "happened_at",
            "mass_mg",
            "bags",
            "number",
        )[: limit + 1]
    )
    more = cursor_for(rows[limit - 1][8]) if len(rows) > limit else ""
    shown = tuple(
        OriginRow(r[0], r[1], r[2] or "", r[3] or "", r[4], r[5], r[6] or 0, r[7])
        for r in rows[:limit]
    )
    return Page(shown, more)


def origin_page(actor: Actor, code: str) -> OriginRecord:
    """Show all there is to know of an origin, and what became of every gram of it."""
    origin = origin_of(actor, code)
    lots = rows_of(
        Lot.objects.filter(origin=origin).order_by("number"), holds_in_force(actor.workshop_id)
    )
    return OriginRecord(
        code=origin.code,
        kind=origin.kind,
        run=origin.run.code,
        source=origin.source.name if origin.source else "",
        programme=origin.programme.name if origin.programme else "",
        **texts_of(OriginTexts, origin),
        may_be_named=bool(origin.source and origin.source.may_be_named),
        happened_at=origin.happened_at,
        received_by=named(origin.by, origin.received_by),
        mass_mg=sum(lot.made_mg for lot in lots),
        lots=tuple(lots),
        fate=fate_of(origin.pk),
        changes=changes_of(actor.workshop_id, origin.code),
    )


def lot_origins(actor: Actor, code: str) -> LotOrigins:
    """Show who is in a lot and how much; the parts and the traces add up to its mass exactly."""
    code = read_code(code) or code
    found = rows(_WHO_IS_IN, [actor.workshop_id, code])
    if not found:
        lot_of(actor, code)
    form, made_mg, model, state, traces_mg, stale = found[0][:6]
    parts = tuple(
        OriginPart(kind, origin, source, moment(at), mass_mg, mass_mg / (made_mg or 1))
        for *_, kind, origin, source, at, mass_mg in found
        if kind is not None
    )
    kinds = [part.kind for part in parts]
    custody = claim(kinds, traces_mg)
    model = model or (WELL_MIXED if state == Run.OPEN else NOT_KNOWN)
    return LotOrigins(code, form, made_mg, model, custody, parts, traces_mg, bool(stale))


def origin_spools(actor: Actor, code: str) -> list[SpoolShare]:
    """List every spool that descends from an origin, with the origin's part in it."""
    code = read_code(code) or code
    found = rows(_SPOOLS_OF, [actor.workshop_id, code] * 2)
    if not found:
        origin_of(actor, code)
    return [
        SpoolShare(lot, polymer, made_mg, part_mg, part_mg / made_mg, at and moment(at))
        for lot, polymer, made_mg, part_mg, at in found
    ]
