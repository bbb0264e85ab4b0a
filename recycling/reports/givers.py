"""Who gave: collections, sources and programmes, named only where they may be."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Count, F, Q, Sum
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from recycling.models import Origin, Programme, Run
from recycling.queries.people.consent import SMALL_GROUP, agreed
from recycling.records.reports.documents import MASS, NUMBER, SHARE, Column, Fact, Section, Table
from recycling.reports.movements import Movements
from recycling.reports.places import mass, words
from recycling.reports.scope import Scope
from recycling.stages.declaration import RECEIVED


@dataclass(frozen=True)
class Giver:
    """A source with what it gave in the period."""

    name: str
    kind: str
    is_named: bool
    collections: int
    mass_mg: int


@dataclass(frozen=True)
class Givers:
    """Everyone who gave in the period."""

    each: tuple[Giver, ...]

    @property
    def sources(self) -> int:
        """How many sources."""
        return len(self.each)

    @property
    def collections(self) -> int:
        """How many collections."""
        return sum(one.collections for one in self.each)


def collections_of(scope: Scope) -> Q:
    """Choose the collections that a report follows; those that were voided are none."""
    chosen = Q(workshop_id=scope.actor.workshop_id, kind=Origin.COLLECTION)
    chosen &= ~Q(run__state=Run.VOID)
    return chosen & Q(**{scope.column: scope.key}) if scope.column else chosen


def givers_of(scope: Scope) -> Givers:
    """Read who gave in the period, and how much."""
    rows = (
        Origin.objects.filter(
            collections_of(scope), happened_at__gte=scope.start, happened_at__lt=scope.end
        )
        .annotate(named=agreed("source"))
        .values_list("source__name", "source__kind", "named")
        .annotate(collections=Count("pk", distinct=True), mass_mg=Sum("lots__made_mg"))
        .order_by("source__name")
    )
    return Givers(
        tuple(
            Giver(name or "", kind or "other", bool(named), collections, mass_mg or 0)
            for name, kind, named, collections, mass_mg in rows
        )
    )


def givers_section(found: Movements, givers: Givers) -> Section:
    """Show the collections by source and kind, and what programmes aim at."""
    scope = found.scope
    people = scope.question.people_reached
    facts = [
        Fact("collections", _("Collections"), givers.collections, NUMBER),
        Fact("sources", _("Sources"), givers.sources, NUMBER),
        Fact("people_reached", _("People reached"), people, NUMBER, how="typed"),
    ]
    text = [
        _(
            "A collection is counted in the period in which it was handed over, by the"
            " workshop's clock. A source is named only where it has agreed to that; kinds with"
            " fewer than {number} sources are not broken out."
        ).format(number=SMALL_GROUP)
    ]
    if scope.programme:
        facts += _progress(found, scope.programme)
    tables = [_by_source(givers), _by_kind(givers)]
    if scope.is_whole:
        tables.append(_programmes(scope))
    return Section(
        "givers",
        _("Who gave"),
        tuple(text),
        tuple(facts),
        tuple(one for one in tables if one.rows),
    )


def _progress(found: Movements, programme: Programme) -> list[Fact]:
    so_far_mg = -sum(sums[1] for (_p, name), sums in found.sums.items() if name == RECEIVED)
    title = _("Collected for the programme up to the period's end")
    facts = [Fact("programme_so_far_mg", title, so_far_mg, MASS, how="mixed")]
    if programme.target_mg:
        note = _("Collected so far over what the programme aims at.")
        facts += [
            Fact("target_mg", _("The programme's target"), programme.target_mg, MASS, how="typed"),
            Fact(
                "target_reached_share",
                _("Reached of the target"),
                so_far_mg / programme.target_mg,
                SHARE,
                how="computed",
                note=note,
            ),
        ]
    return facts


def _counting() -> tuple[Column, ...]:
    return (
        Column("sources", _("Sources"), NUMBER),
        Column("collections", _("Collections"), NUMBER),
        mass("mass_mg", _("Collected")),
    )


def _by_source(givers: Givers) -> Table:
    named = [one for one in givers.each if one.is_named]
    others = [one for one in givers.each if not one.is_named]
    rows = [(one.name, kind_title(one.kind), 1, one.collections, one.mass_mg) for one in named]
    if others:
        rows.append((_("Sources that are not named"), "", *_summed(others)))
    return Table(
        "collected_by_source",
        _("Collected by source"),
        (words("source", _("Source")), words("kind", _("Kind")), *_counting()),
        tuple(rows),
        (_("All"), "", *_summed(list(givers.each))),
    )


def _by_kind(givers: Givers) -> Table:
    kinds: dict[str, list[Giver]] = defaultdict(list)
    for one in givers.each:
        kinds[one.kind].append(one)
    large = {kind: one for kind, one in kinds.items() if len(one) >= SMALL_GROUP}
    small = [one for kind, each in kinds.items() if kind not in large for one in each]
    if len(small) < SMALL_GROUP and large:
        small += large.pop(min(large, key=lambda kind: (len(large[kind]), kind))) if small else []
    rows = [(kind_title(kind), *_summed(large[kind])) for kind in sorted(large)]
    if small and rows:
        rows.append((_("Other kinds"), *_summed(small)))
    return Table(
        "collected_by_kind",
        _("Collected by kind of source"),
        (words("kind", _("Kind")), *_counting()),
        tuple(rows),
        (_("All"), *_summed(list(givers.each))),
    )


def _summed(givers: list[Giver]) -> tuple[int, int, int]:
    collections = sum(one.collections for one in givers)
    return len(givers), collections, sum(one.mass_mg for one in givers)


def _programmes(scope: Scope) -> Table:
    inside = Q(collections__happened_at__gte=scope.start)
    kept = (
        Q(collections__kind=Origin.COLLECTION)
        & Q(collections__happened_at__lt=scope.end)
        & ~Q(collections__run__state=Run.VOID)
    )
    rows = (
        Programme.objects.filter(workshop_id=scope.actor.workshop_id)
        .annotate(
            mass_mg=Sum("collections__lots__made_mg", filter=kept & inside),
            so_far_mg=Sum("collections__lots__made_mg", filter=kept),
            goal_mg=F("target_mg"),
        )
        .order_by("name")
        .values_list("name", "mass_mg", "so_far_mg", "goal_mg")
    )
    return Table(
        "programmes",
        _("Programmes and their targets"),
        (
            words("programme", _("Programme")),
            mass("mass_mg", _("Collected in the period")),
            mass("so_far_mg", _("Collected up to its end")),
            mass("target_mg", _("Target"), "typed"),
            Column("target_reached_share", _("Reached"), SHARE, how="computed"),
        ),
        tuple(
            (name, mass_mg or 0, so_far or 0, goal, (so_far or 0) / goal if goal else None)
            for name, mass_mg, so_far, goal in rows
        ),
    )


def kind_title(kind: str) -> str:
    """Name a kind of source for people."""
    return {
        "school": _("School"),
        "shop": _("Shop"),
        "household": _("Household"),
        "business": _("Business"),
        "maker": _("Maker, left over from making"),
        "club": _("Club"),
        "bin": pgettext("kind of source", "Unattended bin"),
        "event": pgettext("kind of source", "Event"),
        "other": _("Other"),
    }.get(kind, kind)
