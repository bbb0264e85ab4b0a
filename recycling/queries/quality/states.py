"""Products with their state: what was noted of them is read once, for one or for all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, Subquery
from django.utils import timezone

from recycling.calc.quality.judging import Answer
from recycling.models import Draw, FilamentReading, Lot, Polymer, Verdict
from recycling.queries.quality.declared import declared_rows
from recycling.queries.quality.judged import Gauge, Noted, Readings, Said, judge
from recycling.queries.setup.practice import practice_rows
from recycling.records.quality.declared import CHECKED_FORMS, DeclaredRow, ProductState
from recycling.records.setup.practice import PracticeRow
from recycling.stages import STAGES
from recycling.stages.declaration import PRODUCT

SAME_FORM = [one.key for one in STAGES if one.same_form]
MEMBER = 36
"""Length of a member's reference; other givers are known by a longer digest."""


class Judges:
    """What a workshop declares, and how it measures: read once, to judge any of its products."""

    def __init__(self, workshop_id: int, practice: Mapping[str, PracticeRow] | None = None) -> None:
        practice = practice or practice_rows(workshop_id)
        self.rows: list[DeclaredRow] = declared_rows(workshop_id)
        self.gauge = Gauge(practice["gauge_u_mm"].value, practice["gauge_step_mm"].value)

    def state(self, noted: Noted, moment: datetime) -> ProductState:
        """Say what a product was at a moment."""
        return judge(noted, self.rows, self.gauge, moment)


def state_of(lot: Lot, moment: datetime | None = None) -> ProductState | None:
    """Say what a product is; None for a lot that no check is declared for."""
    readings = FilamentReading.objects.filter(lot_id=lot.pk).order_by("measured_at", "pk")
    return judged_with(lot.workshop_id, lot.code, lot.form, lot.role, list(readings), moment)[0]


def judged_with(
    workshop_id: int,
    code: str,
    form: str,
    role: str,
    readings: Sequence[FilamentReading],
    moment: datetime | None = None,
) -> tuple[ProductState | None, float | None]:
    """Say what a product is of which the readings are at hand, and its polymer's density, g/cm³.

    Three statements; neither is known of a lot that no check is declared for.
    """
    if form not in CHECKED_FORMS or role != PRODUCT:
        return None, None
    found = list(
        Lot.objects.filter(workshop_id=workshop_id, code=code)
        .order_by("verdicts__given_at", "verdicts__pk")
        .values_list(
            "pk",
            "made_by__stage",
            *_COLUMNS,
            "second_choice__reason",
            *(f"verdicts__{name}" for name in _SAID),
            Subquery(
                Polymer.objects.filter(workshop_id=workshop_id, code=OuterRef("polymer")).values(
                    "density_g_cm3"
                )[:1]
            ),
        )
    )
    lot_id, stage = found[0][:2]
    if stage in SAME_FORM:
        noted = noted_of(workshop_id, [lot_id])[lot_id]
    else:
        noted = _noted(found[0][2:8])
        noted.second_choice = found[0][8] or ""
        noted.readings = [Readings(r.measured_at, r.first_mm, r.second_mm) for r in readings]
        noted.said = [_said(*row[10:14]) for row in found if row[9] is False]
    return Judges(workshop_id).state(noted, moment or timezone.now()), found[0][14]


_COLUMNS = (
    "form",
    "polymer",
    "made_by__ended_at",
    "made_by__started_at",
    "spool__diameter_mm",
    "spool__tolerance_mm",
)
_SAID = ("good", "giver", "given_at", "state", "decided_at")


def _noted(row: Sequence[Any]) -> Noted:
    form, polymer, ended_at, started_at, nominal_mm, tolerance_mm = row
    return Noted(form, polymer, ended_at or started_at, nominal_mm, tolerance_mm)


def _said(giver: str, given_at: datetime, state: str, decided_at: datetime | None) -> Said:
    """A member's verdict counts at once, another's when it was decided on."""
    counted_at = given_at if len(giver) == MEMBER else None
    answered_at = None
    if state == Verdict.COUNTED:
        counted_at = counted_at or decided_at or given_at
    elif state == Verdict.SET_ASIDE:
        answered_at = decided_at
    return Said(False, given_at, counted_at, answered_at)


def shown_state(state: ProductState | None) -> tuple[str, datetime | None]:
    """Give what others are told of a product, and when it was measured; nothing if not decided."""
    if state is None or state.state == Answer.NOT_JUDGED:
        return "", None
    measured = [one.measured_at for one in state.answers if one.needed and one.measured_at]
    return state.state, max(measured, default=None)


def states_at(
    workshop_id: int, moments: Sequence[datetime]
) -> Mapping[int, tuple[ProductState, ...]]:
    """Say of each product of a workshop what it was at each moment; few statements."""
    judges, noted = Judges(workshop_id), noted_of(workshop_id)
    return {
        lot_id: tuple(judges.state(one, moment) for moment in moments)
        for lot_id, one in noted.items()
    }


def noted_of(workshop_id: int, lot_ids: Sequence[int] | None = None) -> dict[int, Noted]:
    """Read what was noted of products: of these lots, or of all.

    A spool that kept its form, as one that was dried again, is the same strand: its readings go
    along. What is wound anew, or judged by a user, stands for itself.
    """
    chosen: dict[str, Any] = {"form__in": CHECKED_FORMS, "role": PRODUCT}
    noted, kept_form = _lots({**chosen, "workshop_id": workshop_id}, lot_ids)
    before = _same_strand(workshop_id, lot_ids) if kept_form else {}
    wanted = None if lot_ids is None else [*lot_ids, *before.values()]
    if before and wanted is not None:
        noted |= _lots({**chosen, "workshop_id": workshop_id}, list(before.values()))[0]
    of: dict[str, Any] = {"lot__workshop_id": workshop_id}
    if wanted is not None:
        of = {"lot_id__in": wanted}
    _add_readings(noted, of)
    _add_said(noted, of)
    for lot_id in sorted(before):
        if lot_id in noted and (parent := noted.get(before[lot_id])):
            own = noted[lot_id]
            own.readings = [*parent.readings, *own.readings]
    if lot_ids is not None:
        noted = {lot_id: one for lot_id, one in noted.items() if lot_id in lot_ids}
    return noted


def _lots(chosen: dict[str, Any], lot_ids: Sequence[int] | None) -> tuple[dict[int, Noted], bool]:
    """Read products, and whether one of them kept its form from a spool before."""
    rows = Lot.objects.filter(**chosen)
    if lot_ids is not None:
        rows = rows.filter(pk__in=lot_ids)
    noted, kept_form = {}, False
    names = ("pk", "second_choice__reason", "made_by__stage", *_COLUMNS)
    for lot_id, reason, stage, *facts in rows.values_list(*names).iterator():
        noted[lot_id] = _noted(facts)
        noted[lot_id].second_choice = reason or ""
        kept_form |= stage in SAME_FORM
    return noted, kept_form


def _add_readings(noted: dict[int, Noted], of: dict) -> None:
    rows = FilamentReading.objects.filter(**of).order_by("measured_at", "pk")
    for lot_id, at, first, second in rows.values_list(
        "lot_id", "measured_at", "first_mm", "second_mm"
    ):
        if lot_id in noted:
            noted[lot_id].readings.append(Readings(at, first, second))


def _add_said(noted: dict[int, Noted], of: dict) -> None:
    rows = Verdict.objects.filter(good=False, **of).order_by("given_at", "pk")
    for lot_id, *said in rows.values_list("lot_id", *_SAID[1:]):
        if lot_id in noted:
            noted[lot_id].said.append(_said(*said))


def _same_strand(workshop_id: int, lot_ids: Sequence[int] | None) -> dict[int, int]:
    """Map a spool to the one spool that it was before, where it kept its form."""
    draws = Draw.objects.filter(
        run__workshop_id=workshop_id,
        run__stage__in=SAME_FORM,
        lot__form="filament",
        run__outputs__form="filament",
        mass_mg__gt=0,
    )
    if lot_ids is not None:
        draws = draws.filter(run__outputs__in=lot_ids)
    pairs = list(draws.values_list("run_id", "run__outputs", "lot_id"))
    runs: dict[int, set[tuple[int, int]]] = {}
    for run_id, given, drawn in pairs:
        runs.setdefault(run_id, set()).add((given, drawn))
    return {given: drawn for one in runs.values() if len(one) == 1 for given, drawn in one}
