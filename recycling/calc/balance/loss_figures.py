"""How often honest runs are flagged or accused, and how often a planted slip is found and named.

Books are judged run after run, each by the runs that ended before it, as the workshop's own page
does it. The share of honest runs counts those before anything is planted.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from recycling.calc.balance.judging import Closed, Judgement, Memory, Moved
from recycling.calc.balance.loss_simulation import BORDERS
from recycling.calc.balance.slip_changes import (
    FACTOR_TEN,
    LEFT_OUT,
    SWAPPED,
    TARE_FORGOTTEN,
    TARE_TWICE,
    TWICE,
    UNIT,
    Typed,
)

NAMED = {
    "tare forgotten": TARE_FORGOTTEN,
    "tare twice": TARE_TWICE,
    "digits swapped": SWAPPED,
    "factor 10": FACTOR_TEN,
    "unit mistaken": UNIT,
    "entered twice": TWICE,
    "not entered": LEFT_OUT,
}
"""What a book calls what was planted in it → what a line calls it."""

_OF_STEP = math.hypot(1 / math.sqrt(3), 1 / math.sqrt(12))


@dataclass
class Tally:
    """What was counted over some books."""

    honest: Counter[str] = field(default_factory=Counter)
    worst_book: float = 0.0
    planted: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))

    def share(self, what: str) -> float:
        """Share of honest runs that were ``flagged`` or ``accused``."""
        return self.honest[what] / max(self.honest["runs"], 1)

    def slips(self, what: str) -> float:
        """Share of planted slips, over all kinds, that were ``found``, or right ``first``."""
        kinds = [one for kind, one in self.planted.items() if kind in (*NAMED, "weigh-in")]
        return sum(one[what] for one in kinds) / max(sum(one["books"] for one in kinds), 1)

    def losses(self, what: str) -> float:
        """Share of real losses that were ``found``, or ``named`` as a slip."""
        one = self.planted["real loss"]
        return one[what] / max(one["books"], 1)


def tally(books: Iterable[dict[str, Any]]) -> Tally:
    """Judge books and count."""
    found = Tally()
    for book in books:
        count(found, book)
    return found


def count(found: Tally, book: dict[str, Any]) -> None:
    """Judge one book, up to where what is planted in it shows, and count."""
    truth = book["truth"]
    planted, shows = truth.get("run", math.inf), truth.get("seen_run", math.inf)
    honest: Counter[str] = Counter()
    memory = Memory()
    for at, (run, moved) in enumerate(told(book)):
        if at > shows:
            break
        if run.closes and (at < planted or at == shows):
            judged = memory.judge(run, book["boxes"], moved)
            if at == shows:
                _count_planted(found.planted[truth["kind"]], truth, judged)
            else:
                honest["runs"] += 1
                honest["flagged"] += judged.flagged
                honest["accused"] += bool(judged.explained and judged.explained.named)
        memory.see(run)
    found.honest += honest
    if truth["kind"] == "honest" and honest["runs"]:
        found.worst_book = max(found.worst_book, honest["flagged"] / honest["runs"])


def _count_planted(counted: Counter[str], truth: dict[str, Any], judged: Judgement) -> None:
    counted["books"] += 1
    counted["found"] += judged.flagged
    if judged.explained:
        counted["named"] += judged.explained.named is not None
        counted["first"] += right_first(truth, judged)


def right_first(truth: dict[str, Any], judged: Judgement) -> bool:
    """Whether the first slip is the planted one: its figure and its kind; of a weigh-in the figure.

    The same tare too often on one side and too seldom on the other is one line, and so are two
    kinds that make the same figure of another.
    """
    if judged.explained is None or not judged.explained.slips:
        return False
    line, kind = judged.explained.slips[0], truth["kind"]
    if kind == "not entered":
        return line.kind == LEFT_OUT and line.left_out[2] == truth["form"]
    named = truth.get("figure") in line.keys
    return named and (kind == "weigh-in" or NAMED.get(kind) in line.kinds)


def told(book: dict[str, Any]) -> Iterator[tuple[Closed, list[Moved]]]:
    """Tell the runs of a book in order, with the earlier figures that each rests on."""
    left: dict[str, int] = {}
    stood: dict[str, list[tuple[Typed, Closed, int]]] = defaultdict(list)
    for one in book["runs"]:
        figures = tuple(_typed(one, figure, left, book["boxes"]) for figure in one["figures"])
        squares = ((_OF_STEP * (f.step_mg or 0)) ** 2 * (2 if f.tare_mg else 1) for f in figures)
        closes = one["stage"] not in BORDERS
        run = Closed(
            one["key"], one["stage"], one["machine"], "", figures, math.sqrt(sum(squares)), closes
        )
        yield (
            run,
            [
                (figure, other, draw.key, sign)
                for draw in figures
                if draw.whole
                for figure, other, sign in stood[str(draw.lot)]
            ],
        )
        for figure in figures:
            if figure.lot:
                stood[str(figure.lot)].append((figure, run, -figure.sign))


def _typed(
    run: dict[str, Any], figure: list[Any], left: dict[str, int], boxes: dict[str, int]
) -> Typed:
    key, side, lot, form, gross_mg, tare_mg, _, step_mg, _, whole = figure
    whole = whole and side == "in"
    if whole:
        gross_mg, tare_mg = max(left[lot], 0), 0
    if lot:
        net_mg = gross_mg - tare_mg
        left[lot] = left.get(lot, 0) - net_mg if side == "in" else net_mg
    place = (run["machine"],) if run["stage"] in BORDERS else ()
    kind = (run["stage"], side, form, *place)
    taken = tuple(name for name, box_mg in boxes.items() if tare_mg == box_mg)
    held: Hashable = lot or None
    return Typed(key, side, kind, gross_mg, tare_mg, taken, step_mg, held, whole)
