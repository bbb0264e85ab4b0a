"""Sessions of machines: what each run took in its own time, and its share of the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from recycling.calc.energy.intervals import METER, RATED, EnergyLog, Span, energy_between
from recycling.calc.energy.sharing import (
    SessionEnergy,
    session_energy,
    session_pieces,
    shared_by_mass,
)
from recycling.calc.energy.stored import Session, named_phases, sessions, trusted_log
from recycling.calc.energy.trust import meter_bounds_kwh
from recycling.calc.energy.uncertainty import class_share, counter_step_kwh, sure_energy
from recycling.queries.energy.logs import machines_logs
from recycling.queries.energy.work import (
    DRAWN,
    PHASE,
    RUN,
    TIME,
    WATER,
    MachineWork,
    RunRow,
    SaidOfRun,
)
from recycling.queries.setup.parameters import Entered
from recycling.records.energy.figures import EnergySource, PhaseEnergy
from recycling.stages.declaration import PRODUCT, WASTE

US_PER_MIN = 60_000_000
CLASS, NO_CLASS, SHARE = "class", "no class", "share"
RATED_SHARE = "rated_u_percent"

Said = Mapping[int, SaidOfRun]


@dataclass(frozen=True)
class Sureness:
    """What the uncertainty of a log rests on, and the share that all of its energy has."""

    basis: str
    percent: float | None
    source: str
    share: float
    step_kwh: float


@dataclass(frozen=True)
class Shared:
    """A run's energy: in its own time, its share of its session's rest, where it is from, ±."""

    own_kwh: float
    overhead: tuple[PhaseEnergy, ...]
    method: str
    covered_s: float
    span_s: float
    least_kwh: float | None
    most_kwh: float | None
    sources: tuple[EnergySource, ...]
    u_kwh: float = 0.0
    u_common_kwh: float = 0.0
    sure: Sureness | None = None


@dataclass(frozen=True)
class _Inside:
    """A session's runs with a length, what each bears, and its log."""

    log: EnergyLog
    runs: dict[int, tuple[Span, int]]
    split: SessionEnergy
    pieces: Mapping[object, list[tuple[Span, float]]]
    sure: Sureness


def shares_of(
    wanted: Sequence[RunRow], work: Mapping[int, MachineWork], said: Said, by: Entered
) -> dict[int, Shared]:
    """Compute the energy of runs on machines from what the machines did and their logs."""
    logs = machines_logs(
        {machine: one.edges_us for machine, one in work.items()},
        {machine: one.parts for machine, one in work.items()},
    )
    gap_us = round(by.practice["session_gap_min"].value * US_PER_MIN)
    ours = {run.pk for run in wanted}
    found = {run.pk: _nothing((run.ended_at - run.started_at).total_seconds()) for run in wanted}
    for machine, done in work.items():
        for session in sessions(_pieces_of(done), gap_us):
            spans = {pk: done.runs[pk] for kind, pk in session.keys if kind == RUN}
            spans = {pk: span for pk, span in spans.items() if span[1] > span[0]}
            if not ours & spans.keys():
                continue
            inside = _inside(session, spans, done, logs[machine], machine, said, by)
            if inside is not None:
                for pk in ours & spans.keys():
                    found[pk] = _shared(pk, inside, logs[machine])
    return found


def _pieces_of(done: MachineWork) -> list[tuple[tuple[str, int], Span]]:
    work: list[tuple[tuple[str, int], Span]] = [((RUN, pk), span) for pk, span in done.runs.items()]
    work += [((PHASE, place), span) for place, (_, span) in enumerate(done.phases)]
    return work + [((TIME, place), one.span) for place, one in enumerate(done.parts)]


def _inside(
    session: Session,
    spans: dict[int, Span],
    done: MachineWork,
    logs: Iterable[EnergyLog],
    machine: int,
    said: Said,
    by: Entered,
) -> _Inside | None:
    log = trusted_log(logs, *session.span)
    if log is None:
        return None
    bears = {pk: _bears(said[pk].mass_mg) for pk in spans}
    even = not sum(bears.values())
    # a run that has given nothing yet shares by one milligram rather than not at all
    runs = {pk: (span, 1 if even else max(bears[pk], 1)) for pk, span in spans.items()}
    named = [done.phases[place] for kind, place in session.keys if kind == PHASE]
    phases = named_phases(session.span, spans.values(), named)
    return _Inside(
        log,
        runs,
        session_energy(log, session.span, runs, phases),
        session_pieces(session.span, runs),
        _sureness(log, machine, by),
    )


def _bears(mass_mg: Mapping[str, int]) -> int:
    """Give what a run's share goes by: its product, else all it kept, else what it drew."""
    kept = sum(mass for role, mass in mass_mg.items() if role not in (WASTE, DRAWN, WATER))
    return mass_mg.get(PRODUCT, 0) or kept or mass_mg.get(DRAWN, 0)


def _sureness(log: EnergyLog, machine: int, by: Entered) -> Sureness:
    if log.method == RATED:
        row = by.practice[RATED_SHARE]
        return Sureness(SHARE, row.value, row.source, row.value / 100, 0.0)
    meter = by.meters.get(machine)
    step_kwh = meter.step_kwh if meter else None
    if step_kwh is None:
        step_kwh = counter_step_kwh(log.kwh) if log.method == METER else 0.0
    if meter is None or meter.class_percent is None:
        return Sureness(NO_CLASS, None, meter.source if meter else "", 0.0, step_kwh)
    percent = meter.class_percent
    return Sureness(CLASS, percent, meter.source, class_share(percent), step_kwh)


def _shared(pk: int, inside: _Inside, logs: Iterable[EnergyLog]) -> Shared:
    log, (span, _) = inside.log, inside.runs[pk]
    own = energy_between(log, *span)
    masses = {key: mass for key, (_, mass) in inside.runs.items()}
    overhead = tuple(
        PhaseEnergy(phase, shared_by_mass(kwh, masses)[pk])
        for phase, kwh in inside.split.overhead_kwh.items()
        if kwh
    )
    said = own.covered_s > 0 or bool(overhead)
    bounds = meter_bounds_kwh(log, *span) if log.method == METER and said else (None, None)
    sure = sure_energy(
        log,
        inside.pieces[pk],
        step_kwh=inside.sure.step_kwh,
        common_share=inside.sure.share,
        covered=None if log.method == RATED else span,
    )
    sources = []
    for other in logs:
        part = energy_between(other, *span)
        if part.covered_s:
            sources.append(EnergySource(other.method, part.kwh, part.coverage, other is log))
    return Shared(
        inside.split.runs[pk].own_kwh,
        overhead,
        log.method if said else "",
        own.covered_s,
        own.span_s,
        bounds[0],
        bounds[1],
        tuple(sources),
        sure.u_kwh if said else 0.0,
        sure.u_common if said else 0.0,
        inside.sure if said else None,
    )


def _nothing(span_s: float) -> Shared:
    return Shared(0.0, (), "", 0.0, span_s, None, None, ())
