"""What of each lot would enter a melt for the first time: own scrap and heels have been there."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Q

from recycling.calc.reports.melted import Marks, never_melted
from recycling.models import Draw, Lot, Origin
from recycling.reports.movements import Movements
from recycling.reports.shares import Share
from recycling.stages import STAGES
from recycling.stages.declaration import FED_BESIDES, HEEL, RETURNED

MELTS = frozenset(one.key for one in STAGES if one.melts)
MIXES = frozenset(one.key for one in STAGES if one.works and not one.melts)
OUT_OF_MELTS = frozenset(given.form for one in STAGES if one.melts for given in one.gives)


@dataclass(frozen=True)
class Fresh:
    """What was never melted in lots that hold melted material; of all other lots it is all."""

    found: Movements
    marks: dict[int, Marks]

    def whole(self, lot_id: int, mass_mg: int) -> int:
        """Give what of a mass of a lot was never melted, mg."""
        if lot_id not in self.marks:
            return mass_mg
        *_, fresh_mg, all_mg = self.marks[lot_id]
        return Share(0, fresh_mg, all_mg).of(mass_mg)

    def part(self, lot_id: int, mass_mg: int) -> int:
        """Give what of that comes from the collections followed, mg."""
        if lot_id not in self.marks:
            return self.found.share(lot_id).of(mass_mg)
        before_mg, upto_mg, _, all_mg = self.marks[lot_id]
        return Share(before_mg, upto_mg - before_mg, all_mg).of(mass_mg)


def fresh_of(found: Movements) -> Fresh:
    """Follow what came out of melts through shredding, drying and blending; two statements."""

    def marks(lot_id: int) -> Marks:
        """Lay out a lot that was never melted: up to those followed, with them, all, its mass."""
        mass_mg, share = found.lots[lot_id].made_mg, found.share(lot_id)
        before_mg = share.before(mass_mg)
        return before_mg, before_mg + share.of(mass_mg), mass_mg, mass_mg

    return Fresh(found, never_melted(_mixing(found), _out_of_melts(found), marks))


def _out_of_melts(found: Movements) -> dict[int, Marks]:
    """Read what came out of a melt here, be it before the book began: nothing in it is fresh."""
    came = Q(made_by__stage__in=MELTS) & ~Q(role=RETURNED) | Q(form=HEEL)
    came |= Q(origin__kind=Origin.OPENING, form__in=OUT_OF_MELTS)
    lots = Lot.objects.filter(came, workshop_id=found.scope.actor.workshop_id)
    return {lot_id: (0, 0, 0, made_mg) for lot_id, made_mg in lots.values_list("pk", "made_mg")}


def _mixing(found: Movements) -> dict[int, tuple]:
    """Read what each run that melts nothing drew, beside what it gave.

    What comes back from a melt as it was is given by a run that melts, and was not melted.
    """
    given: dict[int, list[tuple[int, int]]] = defaultdict(list)
    back = set()
    for lot_id, lot in found.lots.items():
        maker = found.runs.get(lot.maker)
        if maker is not None and maker.stage in MELTS:
            if lot.role != RETURNED:
                continue
            back.add(lot.maker)
        given[lot.maker].append((lot_id, lot.made_mg))
    drawn: dict[int, list[tuple[int, int]]] = defaultdict(list)
    mixes = Q(run__stage__in=MIXES)
    if back:
        mixes |= Q(run_id__in=back) & ~Q(lot__form__in=FED_BESIDES)
    rows = Draw.objects.filter(
        mixes, run__workshop_id=found.scope.actor.workshop_id, mass_mg__gt=0
    ).values_list("run_id", "lot_id", "mass_mg")
    for run_id, lot_id, mass_mg in rows.iterator():
        drawn[run_id].append((lot_id, mass_mg))
    return {run_id: (tuple(draws), tuple(given[run_id])) for run_id, draws in drawn.items()}
