"""The fates of all grams of a workshop up to a report's end, with what each cut finds good."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from recycling.calc.reports.fate_records import (
    Fates,
    Kind,
    LotFate,
    Moved,
    RunFate,
    State,
    Vector,
    Work,
)
from recycling.calc.reports.fates import fates
from recycling.ledger.models import LOT
from recycling.models import Composition, Hold, Lot, Origin, RunCheck
from recycling.queries.balance.moisture import moistures_after
from recycling.queries.quality.states import states_at
from recycling.records.quality.declared import CHECKED_FORMS
from recycling.reports.melted import MELTS, OUT_OF_MELTS
from recycling.reports.movements import FEED_ORDER, LotRow, Movements, RunRow
from recycling.stages import BORDER_OF, STAGES
from recycling.stages.declaration import (
    DISCARDED,
    DISPATCHED,
    FED_BESIDES,
    HEEL,
    LOSSES,
    PRODUCT,
    RECEIVED,
    RETURNED,
    SIDE,
    UNACCOUNTED,
    WASTE,
)

POST, PRE, NOT_STATED = "post-consumer", "pre-consumer", "not stated"
VIRGIN, UNKNOWN, GAIN = "virgin", "unknown", "gain"
CLASS_OF_KIND = {
    "household": POST,
    "school": POST,
    "club": POST,
    "event": POST,
    "bin": POST,
    "shop": POST,
    "business": POST,
    "maker": PRE,
}
"""Class of what a kind of source gives, ISO 14021:2016, 7.8.1.1."""

BELOW, OWN, ABOVE, BOUGHT = "below", "own", "above", "bought"
"""Where a column lies: collections of others below and above on the line of givers, those that the
report follows, and what is from no collection."""

BORDER = {RECEIVED: Work.RECEIVES, DISPATCHED: Work.DISPATCHES, DISCARDED: Work.DISCARDS}
WORK_OF = {
    one.key: BORDER.get(one.border)
    or (Work.COUNTS if one.counts else None)
    or (Work.MELTS if one.melts else Work.SORTS if one.sorts else Work.MIXES)
    for one in STAGES
}

Column = tuple[str, int, str]
"""Whose it is, the cut before which it came in, and its class by ISO 14021."""


@dataclass(frozen=True)
class Followed:
    """The fates with what their columns are."""

    fates: Fates
    columns: tuple[Column, ...]

    def where(self, *whose: str, cuts: Sequence[int] = (), kinds: Iterable[str] = ()) -> Vector:
        """Choose columns: 1 for each that is meant; the gain's is none of these."""
        wanted = [
            one[0] in whose and (not cuts or one[1] in cuts) and (not kinds or one[2] in kinds)
            for one in self.columns
        ]
        return np.array([*wanted, False], dtype=float)

    @property
    def gain(self) -> Vector:
        """Choose the column of gains."""
        return np.array([0.0] * len(self.columns) + [1.0])


def followed(found: Movements) -> Followed:
    """Follow all grams; a constant number of statements beside those of the movements."""
    came, columns = _columns(found)
    moistures = moistures_after(
        RunCheck.objects.filter(run__workshop_id=found.scope.actor.workshop_id)
    )
    known = _known(found, columns)
    states = _states(found)
    runs: dict[int, RunFate] = {}
    lots: dict[int, LotFate] = {}
    place = {column: number for number, column in enumerate(dict.fromkeys(columns.values()))}
    for run_id, moved in found.moved:
        run = found.runs[run_id]
        runs[run_id] = _run(found, run, run_id, moved)
        for row in moved:
            lot_id = row[4]
            if row[1] != LOT or lot_id in lots:
                continue
            lot = found.lots[lot_id]
            water = moistures.get(lot.maker)
            lots[lot_id] = LotFate(
                _kind(lot),
                place[columns[lot_id]] if lot_id in columns else None,
                _melted_before(lot, came.get(lot_id, "")),
                states.get(lot_id, (State.NOT_JUDGED,) * len(found.scope.cuts)),
                water.value if water else 0.0,
                lot.role in (PRODUCT, SIDE),
                known.get(lot_id, ()),
            )
    told = fates(runs, lots, len(place), len(found.scope.cuts))
    return Followed(told, tuple(place))


def _kind(lot: LotRow) -> Kind:
    if lot.form == HEEL:
        return Kind.HEEL
    if lot.role in (SIDE, WASTE):
        return Kind.SIDE
    return Kind.PRODUCT if lot.form in CHECKED_FORMS and lot.role == PRODUCT else Kind.OTHER


def _melted_before(lot: LotRow, kind: str) -> bool:
    return lot.form == HEEL or kind == Origin.OPENING and lot.form in OUT_OF_MELTS


def _run(found: Movements, run: RunRow, run_id: int, moved: list) -> RunFate:
    work = WORK_OF[run.stage]
    drawn, given, lost, missing = [], [], [], []
    for cut, kind, name, _polymer, account_id, mass_mg in moved:
        if kind == LOT:
            mine = found.lots[account_id].maker == run_id
            if mine or work is Work.COUNTS and mass_mg > 0:
                given.append(Moved(account_id, cut, mass_mg))
            else:
                drawn.append(Moved(account_id, cut, -mass_mg))
        elif work in (Work.MELTS, Work.MIXES, Work.SORTS):
            if name in LOSSES:
                lost.append(Moved(None, cut, mass_mg))
            elif name == UNACCOUNTED:
                missing.append(Moved(None, cut, mass_mg))
    lots = [row[4] for row in moved if row[1] == LOT]
    besides = frozenset(one for one in lots if found.lots[one].form in FED_BESIDES)
    returned = frozenset(one for one in lots if found.lots[one].role == RETURNED)
    rows = tuple(drawn), tuple(given), tuple(lost), tuple(missing)
    return RunFate(work, *rows, besides, returned)


def _columns(found: Movements) -> tuple[dict[int, str], dict[int, Column]]:
    """Say of each lot that came in of what kind its origin is, and which column it is in."""
    scope = found.scope
    cut_of = {
        row[4]: row[0]
        for run_id, moved in found.moved
        if BORDER_OF[found.runs[run_id].stage] == RECEIVED
        for row in moved
        if row[1] == LOT
    }
    rows = Lot.objects.filter(workshop_id=scope.actor.workshop_id, pk__in=cut_of)
    if len(cut_of) > 500:  # few or all: a database takes only so many values at once
        rows = Lot.objects.filter(workshop_id=scope.actor.workshop_id, origin__isnull=False)
    fields = ("pk", "origin__kind", "origin__source__kind", "origin__" + (scope.column or "id"))
    came: dict[int, str] = {}
    columns: dict[int, Column] = {}
    for lot_id, kind, source, key in rows.values_list(*fields):
        if lot_id not in cut_of:
            continue
        came[lot_id] = kind
        if kind != Origin.COLLECTION:
            named = VIRGIN if kind == Origin.PURCHASE else UNKNOWN
            columns[lot_id] = (BOUGHT, 0, named)
            continue
        whose = OWN
        if scope.column and key != scope.key:
            whose = BELOW if key is None or scope.key is not None and key < scope.key else ABOVE
        named = CLASS_OF_KIND.get(source or "", NOT_STATED)
        columns[lot_id] = (whose, cut_of[lot_id], named)
    return came, columns


def _known(found: Movements, columns: Mapping[int, Column]) -> dict[int, tuple[float, ...]]:
    """Read what outputs of runs that are computed in feed order hold, by column, mg."""
    place = {column: number for number, column in enumerate(dict.fromkeys(columns.values()))}
    if not any(run.model == FEED_ORDER for run in found.runs.values()):
        return {}
    origins = dict(
        Lot.objects.filter(
            workshop_id=found.scope.actor.workshop_id, origin__isnull=False
        ).values_list("pk", "origin_id")
    )
    column_of = {origins[lot_id]: place[one] for lot_id, one in columns.items()}
    parts = Composition.objects.filter(
        lot__workshop_id=found.scope.actor.workshop_id,
        lot__made_by__composition_model=FEED_ORDER,
        lot__made_by__stage__in=MELTS,
    ).values_list("lot_id", "origin_id", "mass_mg")
    known: dict[int, list[float]] = defaultdict(lambda: [0.0] * len(place))
    for lot_id, origin_id, mass_mg in parts.iterator():
        if origin_id in column_of:
            known[lot_id][column_of[origin_id]] += mass_mg
    return {lot_id: tuple(masses) for lot_id, masses in known.items()}


def _states(found: Movements) -> dict[int, tuple[State, ...]]:
    """Say of each product what it was just before each cut; a hold comes before its checks."""
    moments = [cut - timedelta(microseconds=1) for cut in found.scope.cuts]
    workshop_id = found.scope.actor.workshop_id
    held = _held(found)
    return {
        lot_id: tuple(
            State.ON_HOLD if place in held.get(lot_id, ()) else State(one.state)
            for place, one in enumerate(states)
        )
        for lot_id, states in states_at(workshop_id, moments).items()
    }


def _held(found: Movements) -> dict[int, set[int]]:
    """Map lots to the cuts at which they were on hold, by holds of their own or from above."""
    held: dict[int, set[int]] = defaultdict(set)
    rows = Hold.objects.filter(workshop_id=found.scope.actor.workshop_id)
    below: dict[int, set[int]] | None = None
    for lot_id, spreads, since, until in rows.values_list(
        "lot_id", "with_descendants", "placed_at", "released_at"
    ):
        cuts = {
            place
            for place, cut in enumerate(found.scope.cuts)
            if since < cut and (until is None or until >= cut)
        }
        if not cuts:
            continue
        held[lot_id] |= cuts
        if spreads:
            below = _below(found) if below is None else below
            waiting, seen = [lot_id], {lot_id}
            while waiting:
                fresh = below.get(waiting.pop(), set()) - seen
                seen |= fresh
                waiting += fresh
            for one in seen:
                held[one] |= cuts
    return held


def _below(found: Movements) -> dict[int, set[int]]:
    below: dict[int, set[int]] = defaultdict(set)
    for run_id, moved in found.moved:
        lots = {row[4] for row in moved if row[1] == LOT}
        made = {lot_id for lot_id in lots if found.lots[lot_id].maker == run_id}
        for lot_id in lots - made:
            below[lot_id] |= made
    return below
