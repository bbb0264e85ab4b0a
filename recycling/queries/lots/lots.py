"""Lots: lists, one whole, and what fits a stage."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING, TypedDict

from django.db.models import Case, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce

from recycling.models import Lot, LotEvent, RunCheck, Verdict, Weighing
from recycling.queries.lots.changes import changes_of
from recycling.queries.lots.deviations import deviations_behind
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.queries.lots.postings import postings_of
from recycling.queries.paging import checked_limit, cursor_for, number_of, run_within
from recycling.queries.people.names import name_behind, named
from recycling.records.actors import Actor
from recycling.records.lots.filters import LotFilter
from recycling.records.lots.lots import (
    HoldRow,
    LotEventRow,
    LotRecord,
    LotRow,
    LotUse,
    SpoolFacts,
    VerdictRow,
)
from recycling.records.paging import Page
from recycling.stages import stage
from shared.codes import read_code
from shared.errors import Unknown
from shared.said import say

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    from recycling.queries.lots.holds_in_force import NamedHold

    class _Made(TypedDict):
        how: str | None


MOST_CHOICES = 200
_COLUMNS = (
    "code",
    "form",
    "polymer",
    "colour",
    "role",
    "account__balance_mg",
    "made_mg",
    "made_by__code",
    "made_by__stage",
    "made_by__ended_at",
    "spool__lot_id",
    "pk",
    "stale",
)

_HOW = Subquery(
    Weighing.objects.filter(posting__account_id=OuterRef("pk"), posting__mass_mg__gt=0)
    .order_by("pk")
    .values("how")[:1]
)


def rows_of(lots: QuerySet[Lot], held: Iterable[int]) -> list[LotRow]:
    """Show lots as rows; `held` are the ids of lots on hold."""
    held = frozenset(held)
    return [
        LotRow(*(*row[:10], row[10] is not None, row[11] in held, row[12]))
        for row in lots.values_list(*_COLUMNS)
    ]


def lot_of(actor: Actor, code: str) -> WithAnnotations[Lot, _Made]:
    """Find a lot of the actor's workshop, or say that there is none."""
    lot = (
        Lot.objects.select_related("account", "made_by", "origin", "machine", "spool")
        .annotate(how=_HOW)
        .filter(workshop_id=actor.workshop_id, code=read_code(code) or code)
        .first()
    )
    if lot is None:
        raise Unknown.because(
            "lot-unknown", say("There is no lot “{code}” in this workshop.", code=code)
        )
    return lot


def lots_page(actor: Actor, wanted: LotFilter, after: str = "", limit: int = 50) -> Page[LotRow]:
    """List lots, newest first."""
    held = holds_in_force(actor.workshop_id)
    lots = _filtered(actor.workshop_id, wanted, held).order_by("-number")
    before, limit = number_of(after), checked_limit(limit)
    if before is not None:
        lots = lots.filter(number__lt=before)
    numbers = list(lots.values_list("number", flat=True)[: limit + 1])
    shown = Lot.objects.filter(workshop_id=actor.workshop_id, number__in=numbers[:limit])
    rows = rows_of(shown.order_by("-number"), held)
    more = cursor_for(numbers[limit - 1]) if len(numbers) > limit else ""
    return Page(tuple(rows), more)


def _filtered(workshop_id: int, wanted: LotFilter, held: Iterable[int]) -> QuerySet[Lot]:
    lots = Lot.objects.filter(workshop_id=workshop_id)
    lots = lots.filter(run_within(wanted.start, wanted.end, "made_by__"))
    for name in ("form", "polymer", "colour"):
        if value := getattr(wanted, name):
            lots = lots.filter(**{name: value})
    if wanted.stage:
        lots = lots.filter(made_by__stage=wanted.stage)
    if wanted.spools:
        lots = lots.filter(spool__isnull=False)
    if wanted.state == "on hand":
        lots = lots.filter(account__balance_mg__gt=0)
    elif wanted.state == "used up":
        lots = lots.filter(account__balance_mg=0)
    elif wanted.state == "held":
        lots = lots.filter(pk__in=list(held))
    if wanted.origin:
        code = read_code(wanted.origin) or wanted.origin
        lots = lots.filter(composition__origin__code=code)
    if wanted.text:
        code = read_code(wanted.text) or wanted.text
        lots = lots.filter(Q(code__icontains=code) | Q(note__icontains=wanted.text))
    return lots


def lot_choices(
    actor: Actor, forms: Sequence[str], query: str = "", first: Collection[str] = ()
) -> list[LotRow]:
    """List lots of these forms that have mass on hand and are not on hold, oldest first.

    Lots of the forms named `first` come before all others.
    """
    held = holds_in_force(actor.workshop_id)
    lots = Lot.objects.filter(
        workshop_id=actor.workshop_id, form__in=forms, account__balance_mg__gt=0
    ).exclude(pk__in=list(held))
    if query:
        code = read_code(query) or query
        lots = lots.filter(Q(code__icontains=code) | Q(colour__icontains=query))
    if first:
        rank = Case(When(form__in=list(first), then=0), default=1)
        return rows_of(lots.order_by(rank, "number")[:MOST_CHOICES], ())
    return rows_of(lots.order_by("number")[:MOST_CHOICES], ())


def lot_page(actor: Actor, code: str) -> LotRecord:
    """Show all there is to know of a lot."""
    lot = lot_of(actor, code)
    holds = holds_in_force(actor.workshop_id).get(lot.pk, [])
    before = _before(lot)
    noted = RunCheck.objects.filter(run_id=OuterRef("run_id"), key="receiver").order_by("-pk")
    receiver = Coalesce(Subquery(noted.values("value")[:1]), Value(""))
    uses = lot.draws.filter(mass_mg__gt=0).order_by("run__number").annotate(receiver=receiver)
    return LotRecord(
        code=lot.code,
        form=lot.form,
        polymer=lot.polymer,
        colour=lot.colour,
        role=lot.role,
        note=lot.note,
        mass_mg=lot.account.balance_mg,
        made_mg=lot.made_mg,
        count=lot.count,
        how=lot.how or Weighing.WEIGHED,
        run=lot.made_by.code,
        stage=lot.made_by.stage,
        made_at=lot.made_by.ended_at,
        origin=lot.origin.code if lot.origin else "",
        machine=lot.machine.name if lot.machine else "",
        spool=_spool(lot, before),
        holds=tuple(hold_row(hold) for hold in holds),
        stale=lot.stale,
        uses=tuple(
            LotUse(*row)
            for row in uses.values_list(
                "run__code", "run__stage", "run__state", "mass_mg", "run__started_at", "receiver"
            )
        ),
        postings=postings_of(actor.workshop_id, account_id=lot.pk),
        events=_events(lot),
        changes=changes_of(actor.workshop_id, lot.code),
        verdicts=_verdicts([lot, *before]),
        deviations=deviations_behind(lot.made_by_id),
    )


def _spool(lot: Lot, before: Sequence[Lot]) -> SpoolFacts | None:
    spool = getattr(lot, "spool", None)
    if spool is None:
        return None
    return SpoolFacts(
        lot.code,
        spool.diameter_mm,
        spool.tolerance_mm,
        spool.length_m,
        spool.tare_mg,
        tuple(one.code for one in before),
    )


def _before(lot: Lot) -> list[Lot]:
    """List what a spool was before: the spools that were worked on and kept their form."""
    found: list[Lot] = []
    while hasattr(lot, "spool") and (made := stage(lot.made_by.stage)) and made.same_form:
        drawn = Lot.objects.filter(
            draws__run_id=lot.made_by_id, draws__mass_mg__gt=0, spool__isnull=False
        )
        spools = list(drawn.select_related("made_by", "spool")[:2])
        if len(spools) != 1:
            break
        lot = spools[0]
        found.append(lot)
    return found


def hold_row(hold: NamedHold) -> HoldRow:
    """Show a hold that was read with the names of who placed and released it."""
    return HoldRow(
        hold.pk,
        hold.lot.code,
        hold.lot.form,
        hold.with_descendants,
        hold.reason,
        named(hold.placed_name, hold.placed_by),
        hold.placed_at,
        hold.released_at,
        named(getattr(hold, "released_name", None), hold.released_by),
        hold.release_reason,
    )


def _events(lot: Lot) -> tuple[LotEventRow, ...]:
    rows = LotEvent.objects.filter(lot=lot).annotate(by=name_behind("actor"))
    return tuple(
        LotEventRow(one.kind, one.place, one.note, named(one.by, one.actor), one.happened_at)
        for one in rows.order_by("happened_at", "pk")
    )


def _verdicts(lots: Sequence[Lot]) -> tuple[VerdictRow, ...]:
    decided = Verdict.objects.filter(lot__in=lots).exclude(state=Verdict.WAITING)
    newest = {one.giver: one for one in decided.order_by("given_at", "pk")}
    return tuple(
        VerdictRow(one.good, tuple(one.defects), one.note, one.given_at)
        for one in newest.values()
        if one.state == Verdict.COUNTED
    )
