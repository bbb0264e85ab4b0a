"""From a suspect forth: which lots it starts from, and what part of each later lot is of it.

Shares are those of the search (``exposures``), followed the other way.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from recycling.calc.lots.share_ranges import share_range
from recycling.calc.suspects.passage import Drawn, Passing, of_one
from recycling.models import Draw, Lot, Machine, Origin, Run
from recycling.queries.lots.run_paths import Way, in_chunks, way_down
from recycling.queries.setup.practice import practice_rows
from recycling.queries.suspects.bands import bands_by
from recycling.queries.suspects.settings_met import made_in_band
from recycling.queries.suspects.way_order import WayOrder, gave
from recycling.records.actors import Actor
from recycling.records.suspects.ranking import Candidate
from recycling.stages import stage
from recycling.stages.declaration import HEEL, RETURNED
from shared.codes import read_code
from shared.errors import Unknown
from shared.said import say

BY_LETTER = {"C": "origin", "P": "origin", "O": "origin", "L": "lot", "S": "lot", "R": "run"}


@dataclass(frozen=True)
class Start:
    """A suspect, what part of lots is of it in their own making, and the codes to hold."""

    candidate: Candidate
    lots: Mapping[int, float]
    targets: tuple[str, ...]


@dataclass(frozen=True)
class Spread:
    """Share of a suspect in lots, and in all that each run took in, on the way forth."""

    start: Start
    way: Way
    lots: Mapping[int, float]
    of_run: Mapping[int, float]
    order: WayOrder

    def between(self, lot_id: int, maker: int) -> tuple[float, float] | None:
        """Give the least and most share of the suspect in a lot whose order is not known."""
        melt = self.order.unordered(lot_id, maker)
        if melt is None or self.start.lots.get(lot_id):
            return None
        fed = [
            (one.mass_mg, self.of_lot(one.lot, self.way.lots[one.lot].maker))
            for one in self.order.fed(melt[0])
        ]
        return share_range(fed, melt[1])

    def of_lot(self, lot_id: int, maker: int) -> float:
        """Give the share of the suspect in a lot, 0 to 1; what is not named was well mixed."""
        return self.lots.get(lot_id, self.of_run.get(maker, 0.0))


def start_of(actor: Actor, named: str) -> Start:
    """Find a suspect by its key or by a code alone.

    Raises
    ------
    Unknown
        When there is no such candidate in this workshop, or its spread cannot be followed.
    """
    kind, _, key = named.strip().partition(":")
    if not key:
        kind, key = BY_LETTER.get(named.strip()[:1].upper(), ""), named
    find = FINDERS.get(kind)
    found = find(actor.workshop_id, key.strip()) if find else None
    if found is None:
        raise Unknown.because(
            "candidate-unknown",
            say("There is no candidate “{named}” in this workshop.", named=named),
        )
    return found


def spread_of(start: Start) -> Spread:
    """Carry a suspect's share through everything that its lots went into."""
    way = way_down(start.lots)
    order = WayOrder(way, _gave_back(way))
    given = gave((lot_id, lot.maker) for lot_id, lot in way.lots.items())
    runs = {run_id: _passing(order, run_id, given.get(run_id, ())) for run_id in way.draws}
    return Spread(start, way, *of_one(runs, start.lots), order)


def _gave_back(way: Way) -> set[int]:
    """Name the runs of which something came back: it is what was fed last."""
    found: set[int] = set()
    for chunk in in_chunks(way.runs):
        back = Lot.objects.filter(made_by_id__in=chunk, role=RETURNED)
        found.update(back.values_list("made_by_id", flat=True))
    return found


def _passing(order: WayOrder, run_id: int, given: tuple[int, ...]) -> Passing:
    drawn = tuple(Drawn(one.lot, one.mass_mg) for one in order.portions(run_id))
    parts = order.parts(run_id)
    return Passing(drawn, gave=tuple(dict.fromkeys([*given, *parts])), parts=parts)


def _origin(workshop_id: int, key: str) -> Start | None:
    origin = (
        Origin.objects.select_related("source")
        .filter(workshop_id=workshop_id, code=read_code(key) or key)
        .first()
    )
    if origin is None:
        return None
    name = (origin.source.name if origin.source else "") or origin.supplier or origin.kind
    lots = Lot.objects.filter(origin=origin).order_by("pk").values_list("pk", flat=True)
    found = Candidate(f"origin:{origin.code}", "origin", origin.code, name, origin.happened_at)
    return Start(found, dict.fromkeys(lots, 1.0), (origin.code,))


def _lot(workshop_id: int, key: str) -> Start | None:
    lot = (
        Lot.objects.select_related("made_by")
        .filter(workshop_id=workshop_id, code=read_code(key) or key)
        .first()
    )
    if lot is None:
        return None
    found = Candidate(f"lot:{lot.code}", "lot", lot.code, lot.form, lot.made_by.ended_at)
    return Start(found, {lot.pk: 1.0}, (lot.code,))


def _run(workshop_id: int, key: str) -> Start | None:
    run = Run.objects.filter(workshop_id=workshop_id, code=read_code(key) or key).first()
    if run is None:
        return None
    at = run.ended_at or run.started_at
    return _outputs(Candidate(f"run:{run.code}", "run", run.code, run.stage, at), [run.pk])


def _machine(workshop_id: int, key: str) -> Start | None:
    row = Machine.objects.filter(workshop_id=workshop_id, pk=_id(key)).first()
    if row is None:
        return None
    runs = Run.objects.filter(machine=row).values_list("pk", flat=True)
    return _outputs(Candidate(f"machine:{row.pk}", "machine", "", row.name), runs)


def _heel(workshop_id: int, key: str) -> Start | None:
    drawn = Draw.objects.filter(
        run__workshop_id=workshop_id, lot__form=HEEL, lot__polymer=key, mass_mg__gt=0
    ).exclude(run__polymer__in=("", key))
    lots = dict.fromkeys(drawn.order_by("lot_id").values_list("lot_id", flat=True), 1.0)
    return Start(Candidate(f"heel:{key}", "heel", "", key), lots, ()) if lots else None


def _deviation(workshop_id: int, key: str) -> Start | None:
    runs = Run.objects.filter(workshop_id=workshop_id, deviations__key=key).distinct()
    ids = list(runs.values_list("pk", flat=True))
    return _outputs(Candidate(f"deviation:{key}", "deviation", "", key), ids) if ids else None


def _setting(workshop_id: int, key: str) -> Start | None:
    parts = key.split(":", 2)
    declared = stage(parts[0])
    field = declared.setting(parts[1]) if declared and len(parts) == 3 else None
    if declared is None or field is None:
        return None
    bands = bands_by(practice_rows(workshop_id))
    lots = made_in_band(workshop_id, declared.key, field, parts[2], bands)
    name = f"{declared.title}, {field.label}: {parts[2]}"
    return Start(Candidate(f"setting:{key}", "setting", "", name), lots, ()) if lots else None


def _outputs(candidate: Candidate, run_ids: object) -> Start:
    lots: list[int] = []
    codes: list[str] = []
    for chunk in in_chunks(run_ids):  # type: ignore[arg-type]
        rows = Lot.objects.filter(made_by_id__in=chunk, made_mg__gt=0).order_by("pk")
        for pk, code in rows.values_list("pk", "code"):
            lots.append(pk)
            codes.append(code)
    own = dict.fromkeys(lots, 1.0)
    return Start(candidate, own, tuple(codes) if candidate.kind == "run" else ())


def _id(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else 0


FINDERS: dict[str, Callable[[int, str], Start | None]] = {
    "origin": _origin,
    "lot": _lot,
    "run": _run,
    "machine": _machine,
    "heel": _heel,
    "deviation": _deviation,
    "setting": _setting,
}
"""Kind of a candidate → how it is found; how long something lay open is not followed forth."""
