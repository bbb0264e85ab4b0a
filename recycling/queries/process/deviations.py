"""What was not as it should be on the way of a spool, worst first, with where it was recorded."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from recycling.calc.balance.closure import STATES
from recycling.models import Run
from recycling.queries.balance.closures import CLOSING, closures_by_run
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
OpenHours = Mapping[tuple[int, int], float | None]
Missed = Mapping[int, tuple[LimitMissed, ...]]


def deviations(
    instruments: Instruments,
    way: Way,
    checks: Checks,
    open_h: OpenHours,
    missed: Missed,
    departures: Departures,
    share_of: ShareOf,
    tolerance: tuple[float, float] | None,
) -> tuple[Deviation, ...]:
    """List deviations on a way; `share_of` gives the part of the spool that met a run.

    `checks` has by run and key what was noted and whether it is within its limit, `open_h` by run
    and lot for how many hours dried flake lay open, `missed` by run which limits of its plastic
    were not kept, `departures` by run what was unusual. `tolerance` is the spool's nominal diameter
    and its tolerance in mm, where it has one.
    """
    open_limit_h = instruments.practice["open_limit_h"].value
    found = [
        *_checks(way, checks, share_of, tolerance),
        *_open_runs(way, share_of),
        *_balances(way, share_of, instruments),
        *_left_open(way, open_h, share_of, open_limit_h),
        *_heels(way, share_of),
        *_limits(way, missed, share_of),
        *_unusual(way, departures, share_of),
    ]
    return tuple(sorted(found, key=lambda one: (-one.weight * one.share, -one.weight, one.run)))


def _unusual(way: Way, departures: Departures, share_of: ShareOf) -> Iterator[Deviation]:
    """Give what runs did otherwise than usual; what is of one lot counts as far as it was drawn."""
    for run_id, found in departures.items():
        if run_id not in way.runs:
            continue
        run, drawn = way.runs[run_id], dict(way.draws[run_id])
        of_lot = {way.lots[lot_id].code: mass_mg for lot_id, mass_mg in drawn.items()}
        all_mg = sum(drawn.values()) or 1
        for one in found:
            part = of_lot.get(one.lot, 0) / all_mg if one.lot else 1.0
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
                share_of(run_id) * part,
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
            limit = f"{field.limit:g} {field.unit}".strip()
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
    """Say which runs do not close within weighing, as the page of runs to look at does."""
    closed = [
        run_id
        for run_id, run in way.runs.items()
        if run.state == Run.CLOSED and run.stage in CLOSING
    ]
    for run_id, found in closures_by_run(instruments, closed).items():
        if found.state == STATES[0]:
            continue
        run, left = way.runs[run_id], found.unaccounted
        yield Deviation(
            "balance",
            run.code,
            run.stage,
            "",
            found.direction,
            show_mass(abs(round(left.value))),
            show_mass(round(instruments.bounds.within_u * left.u)),
            run.ended_at,
            share_of(run_id),
            GAP,
        )


def _left_open(
    way: Way, open_h: OpenHours, share_of: ShareOf, limit_h: float
) -> Iterator[Deviation]:
    for (run_id, lot_id), hours in open_h.items():
        if run_id not in way.runs or (hours is not None and hours <= limit_h):
            continue
        run, drawn = way.runs[run_id], dict(way.draws[run_id])
        fraction = drawn[lot_id] / (sum(drawn.values()) or 1)
        yield Deviation(
            "not recorded" if hours is None else "left open",
            run.code,
            run.stage,
            way.lots[lot_id].code,
            "",
            "" if hours is None else f"{hours:.3g} h",
            f"{limit_h:g} h",
            run.started_at,
            share_of(run_id) * fraction,
            GAP if hours is None else SPOILS,
        )


def _limits(way: Way, limits: Missed, share_of: ShareOf) -> Iterator[Deviation]:
    """Say which limits of their plastic runs on the way did not keep."""
    for run_id, missed in limits.items():
        if run_id not in way.runs:
            continue
        run, drawn = way.runs[run_id], dict(way.draws[run_id])
        whole = sum(drawn.values()) or 1
        by_code = {way.lots[lot_id].code: mass_mg for lot_id, mass_mg in drawn.items()}
        for one in missed:
            fraction = by_code[one.lot] / whole if one.lot else 1.0
            yield Deviation(
                one.kind,
                run.code,
                run.stage,
                one.lot,
                one.polymer,
                f"{one.value:.3g}" if one.measured else f"≤ {one.value:.3g}",
                f"{one.limit:.3g} – {one.upper:.3g}" if one.upper else f"{one.limit:.3g}",
                run.ended_at or run.started_at,
                share_of(run_id) * fraction,
                SPOILS if one.known_to_spoil else MAY_SPOIL,
                one.said,
            )


def _heels(way: Way, share_of: ShareOf) -> Iterator[Deviation]:
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
                    share_of(run_id),
                    MAY_SPOIL,
                )
