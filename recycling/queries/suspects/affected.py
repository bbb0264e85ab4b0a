"""What a suspect has reached: every spool with its share, where it is, and whom it went to."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from itertools import zip_longest
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery, Value

from recycling.calc.quality.verdicts import standings
from recycling.models import Draw, Hold, Lot, RunCheck
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.queries.lots.run_paths import in_chunks
from recycling.queries.quality.verdicts import counted_verdicts
from recycling.queries.suspects.places import last_place
from recycling.queries.suspects.ranking import WORDS
from recycling.queries.suspects.spread import Spread, spread_of, start_of
from recycling.records.actors import Actor
from recycling.records.suspects.affected import Affected, AffectedLot, Handed
from recycling.stages import DISPATCHING

_COLUMNS = (
    "pk",
    "code",
    "form",
    "polymer",
    "spool__lot_id",
    "made_by_id",
    "made_mg",
    "account__balance_mg",
    "made_by__ended_at",
    "place",
    "spreads",
)

NO_WORDS = {"receiver": Value(""), "document": Value("")}


def affected(actor: Actor, named: str) -> Affected:
    """List every spool and all stock that a suspect has reached; `named` is its key or code.

    Raises
    ------
    Unknown
        When there is no such candidate in this workshop.
    """
    start = start_of(actor, named)
    spread = spread_of(start)
    rows = _reached(spread)
    shown = actor.may("hold")
    lots = _lots(actor, spread, rows, shown)
    one = start.candidate
    return Affected(
        one.key,
        one.kind,
        one.code,
        one.name,
        start.targets,
        _is_held(start.lots, rows),
        shown,
        tuple(lot for lot in lots if lot.spool),
        tuple(lot for lot in lots if not lot.spool and lot.on_hand_mg),
    )


def _reached(spread: Spread) -> list[tuple[Any, ...]]:
    """Read the suspect's own lots and all that was made of them, with place and own hold."""
    rows: dict[int, tuple[Any, ...]] = {}
    chunks = zip_longest(in_chunks(spread.start.lots), in_chunks(spread.way.draws), fillvalue=())
    spreading = Hold.objects.filter(lot=OuterRef("pk"), released_at=None, with_descendants=True)
    for own, makers in chunks:
        found = Lot.objects.filter(Q(pk__in=own) | Q(made_by_id__in=makers), made_mg__gt=0)
        told = found.annotate(place=last_place(), spreads=Exists(spreading))
        rows.update((row[0], row) for row in told.values_list(*_COLUMNS))
    return list(rows.values())


def _is_held(lot_ids: Iterable[int], rows: Sequence[tuple[Any, ...]]) -> bool:
    """Say whether every lot of the suspect that holds anything is held with what descends."""
    own = set(lot_ids)
    spreads = [row[-1] for row in rows if row[0] in own]
    return bool(spreads) and all(spreads)


def _lots(
    actor: Actor, spread: Spread, rows: Sequence[tuple[Any, ...]], shown: bool
) -> list[AffectedLot]:
    spools = [row[0] for row in rows if row[4]]
    held = holds_in_force(actor.workshop_id)
    judged, handed = _standings(spools), _handed(spools, shown)
    lots = []
    for pk, code, form, polymer, spool, maker, made_mg, on_hand_mg, at, place, _ in rows:
        share = spread.of_lot(pk, maker)
        lots.append(
            AffectedLot(
                code,
                form,
                polymer,
                spool is not None,
                share,
                round(share * made_mg),
                made_mg,
                on_hand_mg,
                at,
                pk in held,
                place or "",
                judged.get(pk, ""),
                tuple(handed.get(pk, ())),
                spread.order.rests_on(maker),
                *(spread.between(pk, maker) or ()),
            )
        )
    return sorted(lots, key=lambda lot: (-lot.share, lot.lot))


def _standings(lot_ids: Collection[int]) -> dict[int, str]:
    counts: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for lot_id, good, _ in counted_verdicts(lot_ids):
        counts[lot_id][0 if good else 1] += 1
    if not counts:
        return {}
    said = standings(*map(list, zip(*counts.values(), strict=True)))
    return {lot_id: WORDS[int(one)] for lot_id, one in zip(counts, said, strict=True)}


def _handed(lot_ids: Sequence[int], shown: bool) -> dict[int, list[Handed]]:
    handed: dict[int, list[Handed]] = defaultdict(list)
    for chunk in in_chunks(lot_ids):
        draws = Draw.objects.filter(lot_id__in=chunk, mass_mg__gt=0, run__stage__in=DISPATCHING)
        rows = _with_words(draws, shown)
        for lot_id, code, ended_at, started_at, mass_mg, receiver, document in rows.order_by(
            "run__number"
        ).values_list(
            "lot_id",
            "run__code",
            "run__ended_at",
            "run__started_at",
            "mass_mg",
            "receiver",
            "document",
        ):
            handed[lot_id].append(
                Handed(code, ended_at or started_at, mass_mg, receiver or "", document or "")
            )
    return handed


def _with_words(draws: QuerySet[Draw], shown: bool) -> QuerySet[Any]:
    """Add whom each went to and by which document, as last noted; no words unless shown."""
    if not shown:
        return draws.annotate(**NO_WORDS)
    noted = RunCheck.objects.filter(run_id=OuterRef("run_id")).order_by("-pk").values("value")
    return draws.annotate(
        receiver=Subquery(noted.filter(key="receiver")[:1]),
        document=Subquery(noted.filter(key="document")[:1]),
    )
