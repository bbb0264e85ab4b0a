"""Put right what was said of a collection or a lot, as far as it moves no mass."""

from __future__ import annotations

from typing import Any

from recycling.keeping.compositions import downstream_runs
from recycling.keeping.deed import deed
from recycling.keeping.deviations import keep_deviations
from recycling.keeping.facts import Facts, given_of, refuse_void
from recycling.keeping.lookups import lot_named, members_named, origin_named, row_named
from recycling.keeping.output_rules import check_spool
from recycling.keeping.prepared import stage_named
from recycling.keeping.texts import check_text, require_reason
from recycling.models import Lot, Origin, Programme, Source, Spool
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origin_page
from recycling.records.actors import Actor
from recycling.records.lots.changes import LotChange, OriginChange
from recycling.records.lots.lots import LotRecord
from recycling.records.lots.mass_entries import SpoolEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.lots.origins import OriginRecord
from recycling.stages.declaration import FORMS, HEEL, PRODUCT
from shared.declared import lengths_in
from shared.errors import Collected
from shared.said import say

ORIGIN_TEXTS = {
    name: longest
    for name, longest in lengths_in(OriginEntry).items()
    if name in OriginChange.__dataclass_fields__
}
LOT_TEXTS = lengths_in(BagEntry)
SPOOL_FACTS = ("diameter_mm", "tolerance_mm", "length_m", "tare_mg")
MAY_BE_EMPTY = ("count", "tolerance_mm", "length_m", "tare_mg")
LARGEST = 10**7


@deed("correct")
def origin_change(actor: Actor, code: str, change: OriginChange) -> OriginRecord:
    """Put right who gave, what it counts towards, who received it, and what was noted.

    Raises
    ------
    Refused
        With every problem of what is given, or when nothing changes.
    """
    reason, found = require_reason(change.reason), Collected()
    origin = origin_named(actor.workshop_id, code)
    refuse_void(origin.run)
    given = given_of(change, tuple(ORIGIN_TEXTS))
    for name, value in given.items():
        check_text(value, f"/{name}", found, ORIGIN_TEXTS[name])
    given |= _named(actor, origin, change, found)
    found.refuse()
    facts = Facts(origin.code)
    facts.set(origin, given)
    facts.keep(actor, reason)
    return origin_page(actor, origin.code)


def _named(actor: Actor, origin: Origin, change: OriginChange, found: Collected) -> dict[str, Any]:
    workshop_id = actor.workshop_id
    given: dict[str, Any] = {}
    if change.source is not None:
        source = row_named(Source, workshop_id, change.source, "source", "/source", found)
        if not change.source and origin.kind == Origin.COLLECTION:
            found.add("source-missing", "Say who gave it.", "/source")
        given["source_id"] = source.pk if source else None
    if change.programme is not None:
        programme = row_named(
            Programme, workshop_id, change.programme, "programme", "/programme", found
        )
        given["programme_id"] = programme.pk if programme else None
    if change.received_by is not None:
        who = members_named(workshop_id, (change.received_by,), "/received_by", found)
        given["received_by"] = who[0].reference if who else None
    return given


@deed("correct")
def lot_change(actor: Actor, code: str, change: LotChange) -> LotRecord:
    """Put right what a lot is, its colour, its pieces, its note, and what makes it a spool.

    Raises
    ------
    Refused
        With every problem of what is given, or when nothing changes.
    """
    reason, found = require_reason(change.reason), Collected()
    pk = lot_named(actor.workshop_id, code).lot_id
    lot = Lot.objects.select_related("made_by", "spool").get(pk=pk)
    refuse_void(lot.made_by)
    given = given_of(change, ("form", "count", *LOT_TEXTS))
    spool = given_of(change, SPOOL_FACTS)
    for name in LOT_TEXTS.keys() & given.keys():
        check_text(given[name], f"/{name}", found, LOT_TEXTS[name])
    _check_count(given.get("count"), found)
    for name in change.empty:
        if name not in MAY_BE_EMPTY:
            found.add("field-needed", say("{name} cannot be empty.", name=name), "/empty")
        (spool if name in SPOOL_FACTS else given)[name] = None
    if "form" in given and given["form"] != lot.form:
        given["role"] = _role_of(lot, given["form"], found)
    kept: Spool | None = getattr(lot, "spool", None)
    if kept is not None:
        _check_spool(kept, spool, found)
    elif spool:
        found.add("spool-wrong", say("Lot {lot} is no spool.", lot=lot.code), "")
    found.refuse()
    facts = Facts(lot.code)
    facts.set(lot, given)
    if kept is not None:
        facts.set(kept, spool)
    facts.keep(actor, reason)
    if "form" in given:
        keep_deviations(actor.workshop_id, downstream_runs([lot.made_by_id]))
    return lot_page(actor, lot.code)


def _check_count(count: int | None, found: Collected) -> None:
    if count is not None and not 0 < count < LARGEST:
        found.add("count-wrong", "A count is a whole number from 1.", "/count")


def _check_spool(kept: Spool, given: dict[str, Any], found: Collected) -> None:
    known = {name: getattr(kept, name) for name in SPOOL_FACTS}
    check_spool(SpoolEntry(**(known | given)), "", found)


def _role_of(lot: Lot, form: str, found: Collected) -> str:
    """Say which role a lot has as another form, or note why it cannot be of that form."""
    if HEEL in (lot.form, form):
        found.add("form-wrong", "A heel is made by the run that leaves it.", "/form")
        return lot.role
    if lot.origin_id:
        if form not in FORMS:
            found.add("form-wrong", say("There is no form “{form}”.", form=form), "/form")
        return PRODUCT
    declared = stage_named(lot.made_by.stage)
    output = declared.output(form)
    if output is None or (hasattr(lot, "spool") and not output.spool):
        found.add(
            "form-wrong",
            say("{stage} gives no {form} of this kind.", stage=declared.title, form=form),
            "/form",
        )
        return lot.role
    return lot.role if lot.role in output.roles else output.role
