"""Good product of a period: within limits and not on hold at its end, less what was so before."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from recycling.calc.reports.fate_records import Vector
from recycling.reports.counted import Counted, Sure, unweighed
from recycling.reports.fates import ABOVE, BELOW, BOUGHT, OWN, Followed
from recycling.reports.heels import Heels
from recycling.reports.movements import Movements


def product_counts(
    found: Movements, told: Followed, sure: Sure, heels: Heels
) -> tuple[dict[str, Counted], dict[tuple[str, int], Counted]]:
    """Count it by polymer, and by polymer and month (place of the cut that it follows).

    Months add up to the period, and all givers to the whole, exactly: what is good up to each cut
    is rounded, on the line of what is from no collection, then of each giver in order.
    """
    good = _good_by_polymer(found, told, estimated_lots(sure, found))
    by_polymer: dict[str, Counted] = {}
    by_month: dict[tuple[str, int], Counted] = {}
    for polymer, (all_good, not_weighed) in good.items():
        steps = [_on_the_line(told, all_good[cut]) for cut in range(len(all_good))]
        unsure = [_on_the_line(told, not_weighed[cut]) for cut in range(len(all_good))]
        by_polymer[polymer] = _change(found, steps, unsure, 0, len(steps) - 1)
        for cut in range(len(steps) - 1):
            by_month[polymer, cut] = _change(found, steps, unsure, cut, cut + 1)
    for lot_id, (masses, here) in told.fates.good_of.items():
        change_mg = float(masses[-1] - masses[0])
        if change_mg:
            polymer = found.lots[lot_id].polymer
            _add_doubt(by_polymer[polymer], found, told, sure, heels, lot_id, change_mg, here)
    return by_polymer, by_month


def _good_by_polymer(
    found: Movements, told: Followed, estimated: set[int]
) -> dict[str, tuple[Vector, Vector]]:
    width = len(told.columns) + 1
    cuts = len(found.scope.cuts)
    sums: dict[str, tuple[Vector, Vector]] = defaultdict(
        lambda: (np.zeros((cuts, width)), np.zeros((cuts, width)))
    )
    for lot_id, (masses, here) in told.fates.good_of.items():
        if masses.any():
            mass = np.outer(masses, here)
            all_good, not_weighed = sums[found.lots[lot_id].polymer]
            all_good += mass
            if lot_id in estimated:
                not_weighed += mass
    return sums


def _on_the_line(told: Followed, good: Vector) -> tuple[int, int]:
    """Give what comes before the part that is followed, and that part, whole milligrams."""
    before = float(good @ (told.where(BOUGHT, BELOW) + told.gain))
    own = float(good @ told.where(OWN))
    return round(before), round(before + own) - round(before)


def _change(
    found: Movements,
    steps: list[tuple[int, int]],
    unsure: list[tuple[int, int]],
    first: int,
    last: int,
) -> Counted:
    own = steps[last][1] - steps[first][1]
    estimated = unsure[last][1] - unsure[first][1]
    other = steps[last][0] - steps[first][0] if found.scope.is_whole else 0
    return Counted(weighed_mg=own - estimated, estimated_mg=estimated, other_mg=other)


def _add_doubt(
    one: Counted,
    found: Movements,
    told: Followed,
    sure: Sure,
    heels: Heels,
    lot_id: int,
    change_mg: float,
    here: Vector,
) -> None:
    maker = found.lots[lot_id].maker
    known = sure.by_pair.get((maker, lot_id), [])
    all_mg = sum(figure.mass_mg for figure in known)
    share = float(here @ told.where(OWN))
    other = float(here @ (told.where(BOUGHT, BELOW, ABOVE) + told.gain))
    for figure in known if all_mg else ():
        for source, part in figure.sureness.parts.items():
            one.parts[source] += change_mg * share / all_mg * part
            if found.scope.is_whole:
                one.other_parts[source] += change_mg * other / all_mg * part
    one.shared_by(heels.get(lot_id, {}), round(change_mg))


def estimated_lots(sure: Sure, found: Movements) -> set[int]:
    """List lots that were counted or estimated and never weighed."""
    return {
        lot_id
        for lot_id in sure.not_weighed
        if lot_id in found.lots
        and unweighed(sure.by_pair.get((found.lots[lot_id].maker, lot_id), []))
    }
