"""Moisture of what went into runs and came out of them, where it was noted."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import F, QuerySet

from recycling.calc.balance.yields import dry_mass
from recycling.models import Draw, Run, RunCheck
from shared.measured import RECTANGULAR, Measured, Source, total

BEFORE = ("moisture_before_percent",)
AFTER = ("moisture_after_percent", "moisture_percent")


@dataclass(frozen=True)
class Dryness:
    """Wet-basis moisture before and after a run, as shares."""

    moisture_before: Measured
    moisture_after: Measured

    def before(self, wet: Measured) -> Measured:
        """Mass that went in without its water, mg."""
        return dry_mass(wet, self.moisture_before)

    def after(self, wet: Measured) -> Measured:
        """Mass that came out without its water, mg."""
        return dry_mass(wet, self.moisture_after)


def dryness_of(runs: QuerySet[Run]) -> dict[int, Dryness]:
    """Read moisture before and after each run, where both are known.

    Before is what the run noted, else what the runs noted that gave what it drew.
    """
    noted = _noted(RunCheck.objects.filter(run__in=runs))
    after = {run: one[AFTER] for run, one in noted.items() if AFTER in one}
    if not after:
        return {}
    makers = _makers(runs)
    given = {maker for lots in makers.values() for maker, _ in lots}
    before_it = _noted(RunCheck.objects.filter(run_id__in=given, key__in=AFTER)) if given else {}
    found = {}
    for run, moisture_after in after.items():
        before = noted[run].get(BEFORE) or _mixed(makers.get(run, []), before_it)
        if before is not None and before.value < 1 and moisture_after.value < 1:
            found[run] = Dryness(before, moisture_after)
    return found


def moistures_after(checks: QuerySet[RunCheck]) -> dict[int, Measured]:
    """Read how wet what each run gave was, as shares, where it noted so."""
    noted = _noted(checks.filter(key__in=AFTER))
    return {run_id: one[AFTER] for run_id, one in noted.items() if one[AFTER].value < 1}


Noted = dict[int, dict[tuple[str, ...], Measured]]


def _noted(checks: QuerySet[RunCheck]) -> Noted:
    """Read moistures as shares; a typed figure is right to half of its last digit."""
    noted: Noted = defaultdict(dict)
    rows = checks.filter(key__in=BEFORE + AFTER).order_by("happened_at", "pk")
    for run_id, key, value in rows.values_list("run_id", "key", "value"):
        text = value.strip().replace(",", ".")
        step = 10.0 ** -len(text.partition(".")[2])
        kind = BEFORE if key in BEFORE else AFTER
        source = Source("moisture", run_id, RECTANGULAR)
        error = {source: step / 100 / math.sqrt(12)}
        noted[run_id][kind] = Measured.of(float(text) / 100, error)
    return noted


def _makers(runs: QuerySet[Run]) -> dict[int, list[tuple[int, int]]]:
    makers: dict[int, list[tuple[int, int]]] = defaultdict(list)
    drawn = Draw.objects.filter(run__in=runs, mass_mg__gt=0, lot__polymer=F("run__polymer"))
    for run_id, maker, mass_mg in drawn.values_list("run_id", "lot__made_by_id", "mass_mg"):
        makers[run_id].append((maker, mass_mg))
    return makers


def _mixed(drawn: list[tuple[int, int]], noted: Noted) -> Measured | None:
    """Mean moisture of what was drawn, by mass; None unless it is known of every lot."""
    if not drawn or any(AFTER not in noted.get(maker, {}) for maker, _ in drawn):
        return None
    whole = sum(mass_mg for _, mass_mg in drawn)
    parts = [(mass_mg / whole, noted[maker][AFTER]) for maker, mass_mg in drawn]
    return total(one.times(share) for share, one in parts)
