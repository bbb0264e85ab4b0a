"""What became of each gram: two views of a period that are never mixed.

A gram bears two marks: its origin, and whether it was melted. Every lot holds so much of each
origin, and so much of that was never melted. From this follow the *flow* view, what happened in
a period, each figure for itself, and the *cohort* view, the fates of the grams of one origin.

Sources
-------
.. [1] ISO 14021:2016, 7.8.1.1: rework is not an origin, it keeps the shares of what it came from.
.. [2] Commission Implementing Decision (EU) 2019/665, annex: the calculation point of plastics is
   flake that is not processed further before it is extruded.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter

import numpy as np

from recycling.calc.keys import Key
from recycling.calc.reports.fate_records import (
    FLOWS,
    GONE,
    STOCK,
    TAKEN_OFF,
    Fates,
    Kind,
    LotFate,
    Moved,
    RunFate,
    State,
    Vector,
    Work,
)


def fates(
    runs: Mapping[Key, RunFate], lots: Mapping[Key, LotFate], columns: int, cuts: int
) -> Fates:
    """Follow every gram from where it came in to where it was at each cut.

    A run's pool is what it drew and, where more came out, a gain as an origin of its own; every
    output and loss takes its share of the pool, unless what it holds is known from the order of
    feeding. What a melt gives is melted; all else keeps what was never melted of what was drawn.

    Parameters
    ----------
    runs, lots : the whole book up to the last cut, masses in mg.
    columns : how many columns origins have; one more is added for gains.
    cuts : how many cuts there are.

    Returns
    -------
    Fates
        Mass by column, mg. In each column what came in equals the sum of `STOCK` and `GONE`.

    Raises
    ------
    graphlib.CycleError
        If a run draws, over whatever others, on what it gave.

    Examples
    --------
    >>> runs = {"in": RunFate(Work.RECEIVES, given=(Moved("flake", 0, 100),)),
    ...         "melt": RunFate(Work.MELTS, (Moved("flake", 0, 100),), (Moved("spool", 0, 90),),
    ...                         unaccounted=(Moved(None, 0, 10),))}
    >>> lots = {"flake": LotFate(column=0), "spool": LotFate(Kind.PRODUCT, states=(State.PASSED,))}
    >>> found = fates(runs, lots, columns=1, cuts=1)
    >>> found.good(0).tolist(), found.at["unaccounted"][0].tolist()
    ([90.0, 0.0], [10.0, 0.0])

    References
    ----------
    .. [1] ISO 14021:2016, 7.8.1.1.
    .. [2] Commission Implementing Decision (EU) 2019/665, annex.
    """
    book = _Book(runs, lots, columns + 1, cuts)
    for run in book.order():
        book.mix(run)
    for mass in (*book.at.values(), *book.upto.values(), *book.stock.values(), *book.away.values()):
        np.cumsum(mass, axis=0, out=mass)
    book.place()
    kept = book.kept()
    here = {lot: book.parts[lot].whole - book.parts[lot].outside for lot in book.good}
    return Fates(book.at, book.upto, kept, {lot: (book.good[lot], here[lot]) for lot in here})


@dataclass(frozen=True, slots=True)
class _Parts:
    """Shares of a lot by column: all, never melted, and what is a product from outside."""

    whole: Vector
    fresh: Vector
    outside: Vector

    def scaled(self, mass_mg: float) -> _Parts:
        """Give masses, mg, of a part of the lot."""
        return _Parts(self.whole * mass_mg, self.fresh * mass_mg, self.outside * mass_mg)


class _Book:
    def __init__(
        self, runs: Mapping[Key, RunFate], lots: Mapping[Key, LotFate], width: int, cuts: int
    ) -> None:
        self.runs, self.lots, self.cuts = runs, lots, cuts
        self.nothing = np.zeros(width)
        self.parts: dict[Key, _Parts] = {}
        self.wound: list[tuple[RunFate, int]] = []
        self.at = {name: np.zeros((cuts, width)) for name in (*STOCK, *GONE)}
        self.upto = {name: np.zeros((cuts, width)) for name in (*FLOWS, *TAKEN_OFF)}
        self.good: dict[Key, Vector] = {}
        self.stock: dict[Key, Vector] = defaultdict(lambda: np.zeros(cuts))
        self.away: dict[Key, Vector] = defaultdict(lambda: np.zeros(cuts))

    def order(self) -> Iterable[Key]:
        """Give the runs, each after those that made what it draws; counts come last."""
        makers = {
            moved.lot: key
            for key, run in self.runs.items()
            if run.work is not Work.COUNTS
            for moved in run.given
        }
        before = {
            key: {makers[one.lot] for one in (*run.drawn, *run.given) if one.lot in makers} - {key}
            for key, run in self.runs.items()
        }
        return TopologicalSorter(before).static_order()

    def mix(self, key: Key) -> None:
        """Say what the lots of a run hold, and count what it moved before each cut."""
        run = self.runs[key]
        for moved in run.given:
            self.stock[moved.lot][moved.cut] += moved.mass_mg
        for moved in run.drawn:
            self.stock[moved.lot][moved.cut] -= moved.mass_mg
        if run.work is Work.RECEIVES:
            self._receive(run)
        elif run.work in (Work.DISPATCHES, Work.DISCARDS, Work.COUNTS):
            self._let_go(run)
        else:
            self._work(run)

    def _receive(self, run: RunFate) -> None:
        for moved in run.given:
            lot = self.lots[moved.lot]
            whole = self.nothing.copy()
            whole[lot.column] = 1.0
            fresh = self.nothing if lot.melted_before else whole
            self.parts[moved.lot] = _Parts(
                whole, fresh, whole if lot.kind is Kind.PRODUCT else self.nothing
            )
            self.upto["collected"][moved.cut] += whole * moved.mass_mg
            self.upto["came_melted"][moved.cut] += (whole - fresh) * moved.mass_mg

    def _let_go(self, run: RunFate) -> None:
        where = "discarded" if run.work is Work.DISCARDS else "unaccounted"
        for moved, sign in [(one, 1) for one in run.drawn] + [(one, -1) for one in run.given]:
            if run.work is Work.DISPATCHES:
                self.away[moved.lot][moved.cut] += sign * moved.mass_mg
                continue
            parts = self.parts[moved.lot].scaled(sign * moved.mass_mg)
            self.at[where][moved.cut] += parts.whole
            if sign < 0:
                self.upto["came_melted"][moved.cut] -= parts.whole - parts.fresh
            if self.lots[moved.lot].kind is Kind.PRODUCT:
                self.upto["put_away"][moved.cut] += parts.whole - parts.outside

    def _work(self, run: RunFate) -> None:
        pool = self._pool(run.drawn)
        plain = self._pool(one for one in run.drawn if one.lot not in run.besides)
        drawn_mg, plain_mg = pool.whole.sum(), plain.whole.sum()
        gained_mg = max(_mass(run.given) + _mass(run.lost) - _mass(run.drawn), 0)
        if gained_mg:
            pool = _with_gain(pool, gained_mg)
        mixed = pool.scaled(1 / ((drawn_mg + gained_mg) or 1.0))
        if run.work is Work.MELTS:
            mixed = _Parts(mixed.whole, self.nothing, self.nothing)
        back = plain.scaled(1 / plain_mg) if plain_mg else mixed
        for moved in run.given:
            if moved.lot not in self.parts:
                known = self.lots[moved.lot].known
                came = back if moved.lot in run.returned else mixed
                self.parts[moved.lot] = self._as_known(came, known) if known else came
        self._leave(run, pool.whole, mixed.whole)
        self._melt(run)
        self._wind(run)

    def _pool(self, drawn: Iterable[Moved]) -> _Parts:
        whole, fresh, outside = (self.nothing.copy() for _ in range(3))
        for moved in drawn:
            parts = self.parts[moved.lot]
            whole += parts.whole * moved.mass_mg
            fresh += parts.fresh * moved.mass_mg
            outside += parts.outside * moved.mass_mg
        return _Parts(whole, fresh, outside)

    def _as_known(self, mixed: _Parts, known: tuple[float, ...]) -> _Parts:
        """Take what an output holds from the order of feeding; a gain is mixed into all of it."""
        gained, mass_mg = mixed.whole[-1], sum(known) or 1.0
        whole = np.array([*known, 0.0]) * ((1 - gained) / mass_mg)
        whole[-1] = gained
        ratio = np.divide(whole, mixed.whole, out=np.zeros_like(whole), where=mixed.whole > 0)
        return _Parts(whole, mixed.fresh * ratio, mixed.outside * ratio)

    def _leave(self, run: RunFate, pool: Vector, mixed: Vector) -> None:
        """Share out what was lost and is unaccounted; what is left is inside the run."""
        left = pool - self._pool(run.given).whole
        share = mixed
        if any(self.lots[moved.lot].known for moved in run.given) and left.sum() > 0:
            share = left / left.sum()
        inside = self.at["inside"]
        for moved in run.drawn:
            inside[moved.cut] += self.parts[moved.lot].whole * moved.mass_mg
        for moved in run.given:
            inside[moved.cut] -= self.parts[moved.lot].whole * moved.mass_mg
        for moved in run.lost:
            self.at["lost"][moved.cut] += share * moved.mass_mg
            inside[moved.cut] -= share * moved.mass_mg
        for cut, mass_mg in _by_cut(run.unaccounted):
            if mass_mg >= 0:
                self.at["unaccounted"][cut] += share * mass_mg
                inside[cut] -= share * mass_mg
                continue
            inside[cut, -1] -= mass_mg
            self.upto["gained"][cut, -1] -= mass_mg
            if run.work is Work.MELTS:
                self.upto["gained_in_melt"][cut, -1] -= mass_mg

    def _melt(self, run: RunFate) -> None:
        """Count what entered a melt for the first time, was accepted, and was made."""
        received_mg, drawn_mg = 0, _mass(run.drawn) or 1
        for moved in run.drawn:
            lot, parts = self.lots[moved.lot], self.parts[moved.lot].scaled(moved.mass_mg)
            as_received = lot.column is not None and lot.kind is not Kind.HEEL
            received_mg += moved.mass_mg * as_received
            if as_received and run.work is not Work.SORTS:
                self.upto["accepted"][moved.cut] += parts.whole
            if run.work is Work.MELTS:
                self.upto["entered_melt"][moved.cut] += parts.fresh
                self.upto["entered_melt_dry"][moved.cut] += parts.fresh * (1 - lot.water)
        for moved in run.given:
            lot, parts = self.lots[moved.lot], self.parts[moved.lot].scaled(moved.mass_mg)
            if run.work is Work.SORTS and lot.counts_accepted:
                self.upto["accepted"][moved.cut] += parts.whole * (received_mg / drawn_mg)
            if run.work is not Work.MELTS:
                continue
            if moved.lot in run.returned:
                self.upto["entered_melt"][moved.cut] -= parts.fresh
                self.upto["entered_melt_dry"][moved.cut] -= parts.fresh
            elif lot.kind is Kind.PRODUCT:
                self.upto["made"][moved.cut] += parts.whole

    def _wind(self, run: RunFate) -> None:
        """Take off what was made: fed again where no product came out, else the winding's waste."""
        drawn = [one for one in run.drawn if self.lots[one.lot].kind is Kind.PRODUCT]
        given = [one for one in run.given if self.lots[one.lot].kind is Kind.PRODUCT]
        winds = bool(given) and run.work is not Work.MELTS
        name = "winding_waste" if winds else "fed_again"
        for moved in drawn:
            parts = self.parts[moved.lot].scaled(moved.mass_mg)
            self.upto[name][moved.cut] += parts.whole - parts.outside
        if winds:
            for moved in given:
                parts = self.parts[moved.lot].scaled(moved.mass_mg)
                self.upto[name][moved.cut] -= parts.whole - parts.outside
            all_mg = max(_mass(run.drawn), _mass(run.given) + _mass(run.lost))
            self.wound.append((RunFate(run.work, tuple(drawn), tuple(given)), all_mg))

    def place(self) -> None:
        """Say at each cut where the mass of each lot is."""
        for lot_key, stock in self.stock.items():
            lot, parts = self.lots[lot_key], self.parts[lot_key]
            melted = parts.whole - parts.fresh
            if lot.kind is not Kind.PRODUCT:
                at_hand = "side" if lot.kind is Kind.SIDE else "unmelted"
                self.at[at_hand] += np.outer(stock, parts.fresh)
                self.at["heel" if lot.kind is Kind.HEEL else "melted"] += np.outer(stock, melted)
                continue
            self.at["unmelted"] += np.outer(stock, parts.fresh)
            self.at["melted"] += np.outer(stock, parts.outside - parts.fresh)
            here = parts.whole - parts.outside
            for cut, state in enumerate(lot.states):
                self.at[_HERE[state]][cut] += here * stock[cut]
        for lot_key, away in self.away.items():
            lot, parts = self.lots[lot_key], self.parts[lot_key]
            if lot.kind is not Kind.PRODUCT:
                self.at["given_other"] += np.outer(away, parts.whole)
                continue
            here = parts.whole - parts.outside
            self.at["given_other"] += np.outer(away, parts.outside)
            self.upto["given"] += np.outer(away, here)
            for cut, state in enumerate(lot.states):
                name = "given_good" if state is State.PASSED else "given_not_good"
                self.at[name][cut] += here * away[cut]

    def kept(self) -> Vector:
        """Give what was good at the cut before and still is, through winding too."""
        kept = np.zeros_like(self.at["good"])
        good = self.good = {
            key: (self.stock[key] + self.away.get(key, 0))
            * np.array([state is State.PASSED for state in lot.states])
            for key, lot in self.lots.items()
            if lot.kind is Kind.PRODUCT and key in self.parts
        }
        for key, masses in good.items():
            parts = self.parts[key]
            still = np.minimum(masses[1:], masses[:-1])
            kept[1:] += np.outer(still, parts.whole - parts.outside)
        for cut in range(1, self.cuts):
            old: dict[Key, Vector] = {}
            for run, all_mg in self.wound:
                came = self.nothing.copy()
                for moved in run.drawn:
                    if moved.cut != cut:
                        continue
                    if good[moved.lot][cut - 1] > 0:
                        parts = self.parts[moved.lot]
                        came += (parts.whole - parts.outside) * moved.mass_mg
                    elif moved.lot in old:
                        came += old[moved.lot] * moved.mass_mg
                if not came.any():
                    continue
                for moved in run.given:
                    if moved.cut == cut:
                        old[moved.lot] = came / all_mg
                        kept[cut] += old[moved.lot] * good[moved.lot][cut]
        return kept


_HERE = {
    State.PASSED: "good",
    State.FAILED: "failed",
    State.NOT_JUDGED: "not_judged",
    State.ON_HOLD: "held",
}


def _with_gain(pool: _Parts, gained_mg: float) -> _Parts:
    """Add what nobody knows whence it came: as fresh as the rest, and as far from outside."""
    drawn_mg = pool.whole.sum() or 1.0
    gain = np.zeros_like(pool.whole)
    gain[-1] = gained_mg
    return _Parts(
        pool.whole + gain,
        pool.fresh + gain * (pool.fresh.sum() / drawn_mg),
        pool.outside + gain * (pool.outside.sum() / drawn_mg),
    )


def _mass(moved: Iterable[Moved]) -> int:
    return sum(one.mass_mg for one in moved)


def _by_cut(moved: Iterable[Moved]) -> list[tuple[int, int]]:
    sums: dict[int, int] = defaultdict(int)
    for one in moved:
        sums[one.cut] += one.mass_mg
    return sorted(sums.items())
