"""What a spool's public page shows: where it came from, how it was made, how it printed."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable

from django.db.models import Sum

from recycling.models import Draw, Lot, LotEvent, Verdict
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.queries.people.consent import SMALL_GROUP, agreed
from recycling.queries.people.members import actor_for
from recycling.queries.people.tokens import digest_of
from recycling.queries.quality.checks import filament_of, settings_in_force
from recycling.queries.quality.states import shown_state, state_of
from recycling.queries.quality.verdicts import counted_verdicts, link_in_force
from recycling.records.labels.spool_page import (
    BOUGHT,
    COUNTED,
    GROUP,
    NAMED,
    TRACES,
    UNNAMED,
    PublicSpool,
    SpoolSource,
    Worked,
)
from recycling.records.quality.verdicts import GivenBefore, PrintedWith
from recycling.stages import DISPATCHING

MOST_WORKED = 5
_KIND_OF_ORIGIN = {"purchase": BOUGHT, "opening": COUNTED}

Part = tuple[int, str, int | None, str | None, str | None, bool | None]
"""Mass in mg, kind of origin, and id, name, kind and consent of its source."""


def public_spool(token: str, giver: str = "", user_id: int | None = None) -> PublicSpool:
    """Show what a spool's public link opens.

    Raises
    ------
    Unknown
        When the link is none, revoked or expired.
    """
    link = link_in_force(token)
    lot, workshop = link.lot, link.workshop
    member = actor_for(user_id, workshop.slug) if user_id else None
    left_mg, left_at = _left(lot)
    filament = filament_of(lot, left_mg)
    kept = LotEvent.objects.filter(lot=lot, kind__in=("sealed", "opened"))
    last = kept.order_by("happened_at", "pk").last()
    parts = _parts(lot)
    verdicts = counted_verdicts([lot.pk])
    judged, judged_at = shown_state(state_of(lot))
    return PublicSpool(
        code=lot.code,
        polymer=lot.polymer,
        colour=lot.colour,
        workshop=workshop.name,
        zone=workshop.zone,
        diameter_mm=filament.nominal_mm if filament else None,
        tolerance_mm=filament.tolerance_mm if filament else None,
        mean_mm=filament.mean_mm if filament else None,
        mass_mg=lot.made_mg,
        left_mg=left_mg,
        left_at=left_at,
        metres_left=filament.metres_left if filament else None,
        u_metres_left=filament.u_metres_left if filament else None,
        covered_metres=filament.covered_metres if filament else None,
        made_at=lot.made_by.ended_at,
        kept=last.kind if last else "",
        kept_at=last.happened_at if last else None,
        collections=sum(1 for part in parts if part[1] == "collection"),
        sources=tuple(grouped(parts, lot.traces_mg, lot.made_mg)),
        settings=settings_in_force(lot),
        worked=_worked(lot),
        good=sum(1 for _, good, _ in verdicts if good),
        bad=sum(1 for _, good, _ in verdicts if not good),
        held=lot.pk in holds_in_force(workshop.pk),
        judged=judged,
        judged_at=judged_at,
        member_of=workshop.slug if member else "",
        before=_before(lot.pk, digest_of(giver)) if giver else None,
    )


def _left(lot: Lot) -> tuple[int, str]:
    """Say what is left of a spool here, or how much of it left the workshop."""
    if lot.account.balance_mg:
        return lot.account.balance_mg, "here"
    sent = Draw.objects.filter(lot=lot, run__stage__in=DISPATCHING).exclude(run__state="void")
    sent_mg = sent.aggregate(sum=Sum("mass_mg"))["sum"] or 0
    return (sent_mg, "dispatched") if sent_mg else (0, "used up")


def _parts(lot: Lot) -> list[Part]:
    return list(
        lot.composition.annotate(agreed=agreed("origin__source")).values_list(
            "mass_mg",
            "origin__kind",
            "origin__source_id",
            "origin__source__name",
            "origin__source__kind",
            "agreed",
        )
    )


def grouped(parts: Iterable[Part], traces_mg: int, mass_mg: int) -> list[SpoolSource]:
    """Put the parts of a spool together so that nobody is named or singled out without consent.

    Sources that may be named stand by themselves. The others are told apart by kind only where
    three or more of a kind are in the spool; all the rest is one part.
    """
    masses: dict[tuple[str, str], int] = defaultdict(int)
    members: dict[tuple[str, str], set[int | None]] = defaultdict(set)
    parts = list(parts)
    of_kind: dict[str, set[int]] = defaultdict(set)
    for _, kind, source_id, _, source_kind, agrees in parts:
        if kind not in _KIND_OF_ORIGIN and source_id and not agrees:
            of_kind[source_kind or ""].add(source_id)
    for part_mg, kind, source_id, name, source_kind, agrees in parts:
        if kind in _KIND_OF_ORIGIN:
            key = (_KIND_OF_ORIGIN[kind], "")
        elif agrees:
            key = (NAMED, name or "")
        elif source_id and len(of_kind[source_kind or ""]) >= SMALL_GROUP:
            key = (GROUP, source_kind or "")
        else:
            key = (UNNAMED, "")
        masses[key] += part_mg
        members[key].add(source_id)
    found = [
        SpoolSource(
            kind,
            name,
            len(members[kind, name]) if kind in (NAMED, GROUP) else 0,
            part_mg,
            part_mg / (mass_mg or 1),
        )
        for (kind, name), part_mg in masses.items()
    ]
    found.sort(key=lambda part: (-part.mass_mg, part.kind, part.name))
    if traces_mg:
        found.append(SpoolSource(TRACES, "", 0, traces_mg, traces_mg / (mass_mg or 1)))
    return found


def _worked(lot: Lot) -> tuple[Worked, ...]:
    """Count what printers were set to in good verdicts on spools of the same run.

    Of each giver and spool the newest that was decided on speaks, and only if it counts.
    """
    said = Verdict.objects.filter(lot__made_by_id=lot.made_by_id).exclude(state=Verdict.WAITING)
    newest = {(one.lot_id, one.giver): one for one in said.order_by("given_at", "pk")}
    used = Counter(
        printed_with(one)
        for one in newest.values()
        if one.state == Verdict.COUNTED and one.good and printed_with(one).said
    )
    return tuple(Worked(printed, users) for printed, users in used.most_common(MOST_WORKED))


def printed_with(verdict: Verdict) -> PrintedWith:
    """Give what a verdict says a printer was set to."""
    return PrintedWith(verdict.nozzle_c, verdict.bed_c, verdict.speed_mm_s)


def _before(lot_id: int, giver: str) -> GivenBefore | None:
    newest = Verdict.objects.filter(lot_id=lot_id, giver=giver).order_by("-given_at", "-pk").first()
    if newest is None:
        return None
    return GivenBefore(
        newest.good,
        tuple(newest.defects),
        newest.note,
        newest.state,
        newest.given_at,
        printed_with(newest),
    )
