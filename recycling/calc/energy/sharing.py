"""Who an energy belongs to: runs that overlap, a session's overhead, the lots that carry it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import fsum

from recycling.calc.energy.intervals import EnergyLog, Span, energy_between, require_span
from recycling.calc.guards import not_negative
from recycling.calc.keys import Key

MG_PER_KG = 1_000_000
STANDBY = "standby"


@dataclass(frozen=True)
class RunShare:
    """A run's part of a session. own_kwh: its interval; overhead_kwh: its share of the rest."""

    own_kwh: float
    overhead_kwh: float

    @property
    def kwh(self) -> float:
        """Own energy and share of the overhead together, kWh."""
        return self.own_kwh + self.overhead_kwh


@dataclass(frozen=True)
class SessionEnergy:
    """Energy of a machine's session. runs: by run; overhead_kwh: by phase; covered_s, span_s: s."""

    runs: Mapping[Key, RunShare]
    overhead_kwh: Mapping[str, float]
    covered_s: float
    span_s: float


@dataclass(frozen=True)
class RunEnergy:
    """What a run drew and made, for carrying energy along.

    energy_kwh: its own energy with its share of overhead. drawn_mg: lots drawn. loaded_mg: lots
    made that carry energy: product, side stream, what goes round again, the heel. waste_mg: lots
    made that carry none.
    """

    energy_kwh: float
    drawn_mg: Mapping[Key, int]
    loaded_mg: Mapping[Key, int]
    waste_mg: Mapping[Key, int] = field(default_factory=dict)


def shared_by_mass(energy_kwh: float, mass_mg: Mapping[Key, int]) -> dict[Key, float]:
    """Share energy in proportion to mass: E_i = E m_i / sum m.

    Parameters
    ----------
    energy_kwh : what is shared, kWh.
    mass_mg : masses that share it, mg.

    Returns
    -------
    dict
        kWh by the same keys.

    Raises
    ------
    ValueError
        If energy or a mass is negative, or all masses are zero.

    Examples
    --------
    >>> shared_by_mass(3.0, {"A": 1000, "B": 2000})
    {'A': 1.0, 'B': 2.0}

    References
    ----------
    .. [1] ISO 14044:2006, 4.3.4.2: allocation by a physical relationship, here mass.
    """
    not_negative("energy_kwh", energy_kwh)
    for key, mass in mass_mg.items():
        not_negative(f"mass of {key}", mass)
    total_mg = sum(mass_mg.values())
    if not total_mg:
        raise ValueError("no mass to share the energy by")
    return {key: energy_kwh * mass / total_mg for key, mass in mass_mg.items()}


def _phase_of(start: int, end: int, phases: Iterable[tuple[str, Span]]) -> str:
    for name, (phase_start, phase_end) in phases:
        if phase_start <= start and end <= phase_end:
            return name
    return STANDBY


def session_energy(
    log: EnergyLog,
    session: Span,
    runs: Mapping[Key, tuple[Span, int]],
    phases: Iterable[tuple[str, Span]] = (),
) -> SessionEnergy:
    """Split a machine's session over its runs; time outside all runs is overhead, shared by mass.

    Between two neighbouring starts or ends, energy goes to the runs that are on: to one alone, to
    several by mass. Where none is on it is overhead, under the phase that it falls in (warm-up,
    purge, ...; standby where none is named), shared over all runs of the session by mass.

    Parameters
    ----------
    log : the machine's log.
    session : start and end, µs.
    runs : (start and end in µs, mass of product in mg) by run.
    phases : named times outside runs, (name, (start, end) in µs).

    Returns
    -------
    SessionEnergy
        The runs' energies and the overheads add up to the session's covered energy.

    Raises
    ------
    ValueError
        If there is no run, a span does not run forward, a run lies outside the session, a mass is
        negative, or masses that must share are all zero.

    Examples
    --------
    >>> from recycling.calc.energy.logs import power_log
    >>> hour = 3_600_000_000
    >>> log = power_log([0, 4 * hour], [1000.0, 1000.0], max_gap_s=20000)
    >>> runs = {"A": ((hour, 3 * hour), 100), "B": ((2 * hour, 4 * hour), 300)}
    >>> split = session_energy(log, (0, 4 * hour), runs, [("warm-up", (0, hour))])
    >>> split.runs["A"], split.overhead_kwh
    (RunShare(own_kwh=1.25, overhead_kwh=0.25), {'warm-up': 1.0})

    References
    ----------
    .. [1] ISO 14044:2006, 4.3.4.2: allocation by a physical relationship, here mass.
    """
    phases = list(phases)
    own, overhead = _split(log, _edges(session, runs, phases), runs, phases)
    overhead_kwh = {name: fsum(parts) for name, parts in overhead.items()}
    rest_kwh = fsum(overhead_kwh.values())
    mass_mg = {key: mass for key, (_, mass) in runs.items()}
    shares = shared_by_mass(rest_kwh, mass_mg) if rest_kwh else dict.fromkeys(runs, 0.0)
    whole = energy_between(log, *session)
    return SessionEnergy(
        {key: RunShare(fsum(own[key]), shares[key]) for key in runs},
        overhead_kwh,
        whole.covered_s,
        whole.span_s,
    )


def session_pieces(
    session: Span, runs: Mapping[Key, tuple[Span, int]]
) -> dict[Key, list[tuple[Span, float]]]:
    """Times of a session with the share of their energy that each run bears.

    The same sharing as `session_energy`: a run bears its own time alone, with others by mass, and
    time outside all runs by mass over all of them.

    Parameters
    ----------
    session : start and end, µs.
    runs : (start and end in µs, mass of product in mg) by run.

    Returns
    -------
    dict
        ((start, end) in µs, share from 0 to 1) by run, in time order.

    Raises
    ------
    ValueError
        As `session_energy`.

    Examples
    --------
    >>> session_pieces((0, 30), {"A": ((10, 20), 100), "B": ((20, 30), 300)})["A"]
    [((0, 10), 0.25), ((10, 20), 1.0)]

    References
    ----------
    .. [1] ISO 14044:2006, 4.3.4.2: allocation by a physical relationship, here mass.
    """
    edges = _edges(session, runs, ())
    found: dict[Key, list[tuple[Span, float]]] = {key: [] for key in runs}
    for start, end in zip(edges, edges[1:], strict=False):
        on = {key: mass for key, ((a, b), mass) in runs.items() if a <= start and end <= b}
        bearing = on or {key: mass for key, (_, mass) in runs.items()}
        shares = dict.fromkeys(on, 1.0) if len(on) == 1 else shared_by_mass(1.0, bearing)
        for key, part in shares.items():
            if part:
                found[key].append(((start, end), part))
    return found


def _split(log, edges, runs, phases) -> tuple[dict, dict[str, list[float]]]:
    """Energies of all pieces between edges, by run and by phase of overhead."""
    own: dict[Key, list[float]] = {key: [] for key in runs}
    overhead: dict[str, list[float]] = {}
    for start, end in zip(edges, edges[1:], strict=False):
        kwh = energy_between(log, start, end).kwh
        on = {key: mass for key, ((a, b), mass) in runs.items() if a <= start and end <= b}
        if len(on) == 1:
            own[next(iter(on))].append(kwh)
        elif on:
            for key, part in shared_by_mass(kwh, on).items():
                own[key].append(part)
        else:
            overhead.setdefault(_phase_of(start, end, phases), []).append(kwh)
    return own, overhead


def _edges(session: Span, runs, phases) -> list[int]:
    require_span(*session, "the session")
    if not runs:
        raise ValueError("a session without a run has no one to bear its energy")
    for key, ((start, end), mass_mg) in runs.items():
        require_span(start, end, f"run {key}")
        not_negative(f"mass of run {key}", mass_mg)
        if start < session[0] or end > session[1]:
            raise ValueError(f"run {key} lies outside its session")
    for name, (start, end) in phases:
        require_span(start, end, name)
    spans = [session, *(span for span, _ in runs.values()), *(span for _, span in phases)]
    within = {min(max(edge, session[0]), session[1]) for span in spans for edge in span}
    return sorted(within)


def carried_shares(runs: Sequence[RunEnergy], lot: Key) -> list[float]:
    """Share of each run's energy that a lot carries: the cumulative energy, taken apart.

    Parameters
    ----------
    runs : in time order. A run carries E + sum over its inputs of e_k d_k / m_k (lot k made with
        mass m_k and energy e_k, d_k drawn), all of it to the loaded outputs, by mass.
    lot : one of the lots that they made.

    Returns
    -------
    list of float
        From 0 to 1, in the order of the runs; Σ share × energy is what the lot carries of them.

    Examples
    --------
    >>> shred = RunEnergy(1.0, {"bottles": 100}, {"flake": 80}, {"fines": 15})
    >>> melt = RunEnergy(2.0, {"flake": 40}, {"spool": 38})
    >>> carried_shares([shred, melt], "spool")
    [0.5, 1.0]

    References
    ----------
    .. [1] Closed form: the adjoint of these linear sums.
    """
    made_mg = {
        one: mass for run in runs for one, mass in (*run.loaded_mg.items(), *run.waste_mg.items())
    }
    wanted = {lot: 1.0}
    shares = [0.0] * len(runs)
    for place in reversed(range(len(runs))):
        loaded_mg = runs[place].loaded_mg
        whole_mg = sum(loaded_mg.values())
        parts = [wanted.get(one, 0.0) * mass for one, mass in loaded_mg.items()]
        if not whole_mg or not any(parts):
            continue
        shares[place] = fsum(parts) / whole_mg
        for one, mass in runs[place].drawn_mg.items():
            if mass and made_mg.get(one):
                wanted[one] = wanted.get(one, 0.0) + shares[place] * mass / made_mg[one]
    return shares


def _drawn(lot, mass_mg, made_mg, left_mg, carried) -> float:
    if lot not in made_mg:
        raise ValueError(f"lot {lot} is drawn before it is made")
    left_mg[lot] -= not_negative(f"mass drawn of {lot}", mass_mg)
    if left_mg[lot] < 0:
        raise ValueError(f"lot {lot} is drawn beyond its mass by {-left_mg[lot]} mg")
    return carried[lot] * mass_mg / made_mg[lot] if mass_mg else 0.0
