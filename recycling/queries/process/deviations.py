"""What was not as it should be on the way of a spool, worst first, with where it was recorded."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isnan
from typing import Protocol

from recycling.models import Run
from recycling.queries.balance.closures import CLOSING, closures_by_run
from recycling.queries.balance.earlier_runs import Ending
from recycling.queries.balance.known_masses import Instruments
from recycling.queries.lots.run_paths import Way
from recycling.records.process.deviations import Deviation
from recycling.records.process.limits_missed import LimitMissed
from recycling.stages import stage
from recycling.stages.deviations import MIXED_UP, UNDRIED, Departure
from shared.units import show_mass

SPOILS, MAY_SPOIL, GAP = 3, 2, 1

ShareOf = Callable[[int], float]
Checks = Mapping[tuple[int, str], tuple[str, bool | None]]
Departures = Mapping[int, Sequence[Departure]]
Feeds = Mapping[tuple[int, int], Mapping[datetime, float | None]]
Missed = Mapping[int, Sequence[LimitMissed]]


class Met(Protocol):
    """What part of the spool met something, 0 to 1; NaN where it is not known."""

    def of_run(self, run_id: int) -> float:
        """Give the part that went through a run."""

    def of_portion(self, run_id: int, lot_id: int, fed: datetime) -> float:
        """Give the part that came from what a run took of a lot at one time."""

    def of_limit(self, run_id: int, one: LimitMissed) -> float:
        """Give the part that a run worked on while it did not keep a limit."""


@dataclass(frozen=True)
class Told:
    """What is told of the way of a spool.

    `checks` has by run and key what was noted and whether it is within its limit; `fed` by run and
    lot, for each time that something worth a word was fed, how many hours it had lain open after
    drying, None where that is not recorded; `missed` by run which limits of its plastic were not
    kept; `departures` by run what was unusual; `met` what part of the spool met each of these.
    """

    way: Way
    checks: Checks
    fed: Feeds
    missed: Missed
    departures: Departures
    met: Met

    def share_of_lot(self, run_id: int, lot_id: int, at: datetime | None = None) -> float:
        """Give the part of the spool that came from a lot in a run, as it was fed at a time."""
        fed = self.fed.get((run_id, lot_id), ())
        each = [self.met.of_portion(run_id, lot_id, one) for one in fed if at is None or one == at]
        return min(sum(each), 1.0)


def deviations(
    instruments: Instruments, told: Told, tolerance: tuple[float, float] | None
) -> tuple[Deviation, ...]:
    """List deviations on a way that some of the spool met.

    `tolerance` is the spool's nominal diameter and its tolerance in mm, where it has one.
    """
    open_limit_h = instruments.practice["open_limit_h"].value
    way, share_of = told.way, told.met.of_run
    found = [
        *_checks(way, told.checks, share_of, tolerance),
        *_open_runs(way, share_of),
        *_balances(way, share_of, instruments),
        *_left_open(told, open_limit_h),
        *_heels(told),
        *_limits(told),
        *_unusual(told),
    ]
    met = [one for one in found if one.share is None or one.share > 0]
    return tuple(sorted(met, key=_worst))


def _worst(one: Deviation) -> tuple[float, int, str]:
    """Put first what spoils most of the spool; a part that is not known may be all of it."""
    return -one.weight * (1.0 if one.share is None else one.share), -one.weight, one.run


def _unusual(told: Told) -> Iterator[Deviation]:
    """Give what runs did otherwise than usual; what is of one lot counts for what came of that."""
    way = told.way
    for run_id, found in told.departures.items():
        if run_id not in way.runs:
            continue
        run = way.runs[run_id]
        by_code = {way.lots[lot_id].code: lot_id for lot_id, _ in way.draws[run_id]}
        for one in found:
            share = told.met.of_run(run_id)
            if one.lot:
                share = told.share_of_lot(run_id, by_code[one.lot]) if one.lot in by_code else 0.0
            weight = SPOILS if one.key in (UNDRIED, MIXED_UP) else GAP
            yield Deviation(
                one.key,
                run.code,
                run.stage,
                "",
                "",
                "",
                "",
                run.started_at,
                share,
                weight,
                said=one.said,
            )


def _checks(
    way: Way, checks: Checks, share_of: ShareOf, tolerance: tuple[float, float] | None
) -> Iterator[Deviation]:
    for (run_id, key), (value, within) in checks.items():
        run = way.runs.get(run_id)
        if run is None:
            continue
        declared = stage(run.stage)
        field = declared.check(key) if declared else None
        if field is None:
            continue
        at, share = run.ended_at, share_of(run_id)
        words = f"{value} {field.unit}".strip()
        if within is False:
            limit = "" if field.limit is None else f"{field.limit:g} {field.unit}".strip()
            yield Deviation(
                "check", run.code, run.stage, "", field.label, words, limit, at, share, SPOILS
            )
        elif key == "clean_after_purge" and value == "no":
            yield Deviation(
                "check", run.code, run.stage, "", field.label, words, "yes", at, share, SPOILS
            )
        elif tolerance and key in ("diameter_min_mm", "diameter_max_mm"):
            nominal, room = tolerance
            if _outside(value, nominal, room):
                limit = f"{nominal:g} ± {room:g} mm"
                yield Deviation(
                    "diameter",
                    run.code,
                    run.stage,
                    "",
                    field.label,
                    words,
                    limit,
                    at,
                    share,
                    SPOILS,
                )


def _outside(value: str, nominal: float, room: float) -> bool:
    try:
        return abs(float(value.replace(",", ".")) - nominal) > room + 1e-9
    except ValueError:
        return False


def _open_runs(way: Way, share_of: ShareOf) -> Iterator[Deviation]:
    for run_id, run in way.runs.items():
        if run.state == Run.OPEN:
            yield Deviation(
                "open run",
                run.code,
                run.stage,
                "",
                "",
                "",
                "",
                run.started_at,
                share_of(run_id),
                MAY_SPOIL,
            )


def _balances(way: Way, share_of: ShareOf, instruments: Instruments) -> Iterator[Deviation]:
    """Say which runs do not balance as such runs do here, as the page of runs to check does."""
    closed = [
        Ending(run_id, run.stage, run.machine_id, run.polymer, run.ended_at)
        for run_id, run in way.runs.items()
        if run.state == Run.CLOSED and run.stage in CLOSING
    ]
    for run_id, found in closures_by_run(instruments, closed).items():
        if not found.flagged:
            continue
        run, left = way.runs[run_id], found.unaccounted
        yield Deviation(
            "balance",
            run.code,
            run.stage,
            "",
            found.direction,
            show_mass(abs(round(left.value))),
            show_mass(max(round(found.band.high_mg), 0)),
            run.ended_at,
            share_of(run_id),
            GAP,
        )


def _left_open(told: Told, limit_h: float) -> Iterator[Deviation]:
    """Say what lay open for too long before it was fed, refill by refill, worst for each lot."""
    way = told.way
    for (run_id, lot_id), fed in told.fed.items():
        run = way.runs.get(run_id)
        for known in (True, False):
            late = {
                at: hours
                for at, hours in fed.items()
                if (hours is not None) == known
                and (hours is None or hours > limit_h)
                and told.share_of_lot(run_id, lot_id, at) > 0
            }
            if run is None or not late:
                continue
            longest_h = max((hours for hours in late.values() if hours is not None), default=0.0)
            yield Deviation(
                "left open" if known else "not recorded",
                run.code,
                run.stage,
                way.lots[lot_id].code,
                "",
                f"{longest_h:.3g} h" if known else "",
                f"{limit_h:g} h",
                min(late),
                min(sum(told.share_of_lot(run_id, lot_id, at) for at in late), 1.0),
                SPOILS if known else GAP,
            )


def _limits(told: Told) -> Iterator[Deviation]:
    """Say which limits of their plastic runs on the way did not keep."""
    way = told.way
    for run_id, missed in told.missed.items():
        if run_id not in way.runs:
            continue
        run = way.runs[run_id]
        by_code = {way.lots[lot_id].code: lot_id for lot_id, _ in way.draws[run_id]}
        for one, share in _shares(told, run_id, missed, by_code):
            yield Deviation(
                one.kind,
                run.code,
                run.stage,
                one.lot,
                one.polymer,
                f"{one.value:.3g}" if one.measured else f"≤ {one.value:.3g}",
                f"{one.limit:.3g} – {one.upper:.3g}" if one.upper else f"{one.limit:.3g}",
                one.at or run.ended_at or run.started_at,
                None if isnan(share) else share,
                SPOILS if one.known_to_spoil else MAY_SPOIL,
                one.said,
            )


def _shares(
    told: Told, run_id: int, missed: Sequence[LimitMissed], by_code: Mapping[str, int]
) -> Iterator[tuple[LimitMissed, float]]:
    """Give each limit missed with its part of the spool; of a lot's refills the worst, for all."""
    of_lots: dict[tuple[str, str, bool], list[tuple[LimitMissed, float]]] = defaultdict(list)
    for one in missed:
        if not one.lot:
            yield one, told.met.of_limit(run_id, one)
        elif (share := told.share_of_lot(run_id, by_code[one.lot], one.at)) > 0:
            of_lots[one.kind, one.lot, one.measured].append((one, share))
    for found in of_lots.values():
        worst = max(found, key=lambda each: each[0].value)[0]
        yield worst, min(sum(share for _, share in found), 1.0)


def _heels(told: Told) -> Iterator[Deviation]:
    way = told.way
    for run_id, draws in way.draws.items():
        run = way.runs[run_id]
        for lot_id, mass_mg in draws:
            lot = way.lots[lot_id]
            if lot.form == "heel" and run.polymer and lot.polymer != run.polymer:
                yield Deviation(
                    "heel",
                    run.code,
                    run.stage,
                    lot.code,
                    lot.polymer,
                    show_mass(mass_mg),
                    run.polymer,
                    run.started_at,
                    told.share_of_lot(run_id, lot_id),
                    MAY_SPOIL,
                )
