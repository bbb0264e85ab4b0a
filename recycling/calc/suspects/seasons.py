"""Invented seasons of an extruder fed in order, with one thing to blame: does the search find it?

A season is runs of one machine. Each is fed from dryer batches in order, batch after batch, by
refills; each batch is mixed of a few collections and lies open for a while before each refill; the
settings change now and then; a heel stays for the next run. The truth goes by a hold-up that is off
from the recorded heel, the search by what is recorded.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from recycling.calc.lots.parts import parts_given
from recycling.calc.lots.recomposition import FeedLog, RunMasses, portions
from recycling.calc.lots.winding import in_force, intervals
from recycling.calc.quality.verdicts import Standing
from recycling.calc.suspects.exposure import Shares, exposure_of_share, listed_shares
from recycling.calc.suspects.passage import Drawn, Passing, carried, of_rows
from recycling.calc.suspects.posterior import weigh_suspects
from recycling.calc.suspects.priors import USUAL, SuspectPriors
from recycling.calc.suspects.ranking import ranking

START = datetime(2026, 1, 1)
PLANTED = ("collection", "batch", "setting", "open")
"""What can be to blame."""

Name = tuple[str, str]
"""Kind and name of a candidate."""


@dataclass(frozen=True)
class SeasonPlan:
    """How seasons are made; invented figures.

    Attributes
    ----------
    runs, judged : int
        Extrusion runs, and spools that somebody judged.
    spool_g : int
        Mass of a spool.
    heel_g : int
        Recorded mass of the heel.
    off_heel : float
        The true hold-up is up to this part more or less.
    batch_kg, run_kg, refill_kg : tuple of float
        Least and most of a dryer batch, of a run and of a refill.
    parts : tuple of int
        Fewest and most collections in a batch.
    in_stock : int
        Collections that a batch is mixed from at a time.
    settings, values : int
        Settings of the machine, and bands that each is used at.
    changes : int
        Most changes of settings in a run.
    open_chances : tuple of float
        Chance of a refill in each band of time open, from short on.
    spoil_chance, full_share, background : float
        Chance that the cause spoils a spool that holds the full share of it, in proportion
        below; that share; chance of a bad spool without it.
    """

    runs: int = 26
    judged: int = 25
    spool_g: int = 750
    heel_g: int = 70
    off_heel: float = 0.2
    batch_kg: tuple[float, float] = (3.0, 6.0)
    run_kg: tuple[float, float] = (3.0, 5.5)
    refill_kg: tuple[float, float] = (0.7, 1.3)
    parts: tuple[int, int] = (1, 3)
    in_stock: int = 5
    settings: int = 4
    values: int = 4
    changes: int = 3
    open_chances: tuple[float, ...] = (0.75, 0.15, 0.1)
    spoil_chance: float = 0.8
    full_share: float = 0.20
    background: float = 0.03


@dataclass(frozen=True)
class InventedRun:
    """One run: its masses in order, what was noted of refills, and when settings changed."""

    masses: RunMasses
    log: FeedLog
    open_band: tuple[str, ...]
    changes: Mapping[str, tuple[tuple[datetime, str], ...]]


@dataclass(frozen=True, eq=False)
class Season:
    """A season, what each spool truly got, and how it is.

    Attributes
    ----------
    runs : tuple of InventedRun
        As recorded.
    made_of : mapping of batch to mapping of collection to float
        Shares, adding up to 1.
    spools : tuple of str
        All spools.
    bad, judged : numpy.ndarray of bool, shape (spools,)
        How each is, and whether somebody said so.
    cause : (str, str) or None
        What is to blame.
    """

    runs: tuple[InventedRun, ...]
    made_of: Mapping[str, Mapping[str, float]]
    spools: tuple[str, ...]
    bad: np.ndarray
    judged: np.ndarray
    cause: Name | None

    @property
    def standing(self) -> np.ndarray:
        """Values of ``Standing`` for each spool, as the workshop knows them."""
        return np.where(self.judged, self.bad.astype(int), int(Standing.NOT_JUDGED))


def season(seed: int, planted: str = "", plan: SeasonPlan | None = None) -> Season:
    """Make a season by chance.

    Parameters
    ----------
    seed : int
        Of the random numbers; the same seed gives the same season.
    planted : str
        Kind of what is to blame, one of ``PLANTED``; empty for nothing. It is in two of the judged
        spools in full or more, up to half of them: nobody finds what nobody saw.
    plan : SeasonPlan, optional
        How it is made; the defaults where not given.

    Returns
    -------
    Season

    Raises
    ------
    ValueError
        If the kind is none, or no such cause is in two judged spools of this season.

    Examples
    --------
    >>> made = season(1, "batch")
    >>> len(made.runs), int(made.judged.sum()), made.cause[0]
    (26, 25, 'batch')
    """
    if planted and planted not in PLANTED:
        raise ValueError(f"what is planted is one of {', '.join(PLANTED)}")
    plan, random = plan or SeasonPlan(), np.random.default_rng(seed)
    made_of, runs = _runs(random, plan)
    off = plan.heel_g * (1 + plan.off_heel * random.uniform(-1, 1))
    names, shares = recorded_shares(_with_heel(runs, round(1000 * off)), made_of)
    spools = tuple(lot for run in runs for lot in run.log.given if lot[0] == "S")
    dense = np.zeros((len(spools), len(names)))
    dense[shares.spool, shares.candidate] = shares.share
    judged = np.zeros(len(spools), dtype=bool)
    judged[random.choice(len(spools), size=plan.judged, replace=False)] = True
    held = (dense[judged] >= plan.full_share).sum(axis=0)
    spoil, cause = np.zeros(len(spools)), None
    if planted:
        able = [
            place
            for place, (kind, name) in enumerate(names)
            if kind == planted and name != "short" and 2 <= held[place] <= plan.judged // 2
        ]
        if not able:
            raise ValueError(f"in this season no {planted} is in two judged spools")
        cause = int(random.choice(able))
        spoil = plan.spoil_chance * exposure_of_share(dense[:, cause], plan.full_share)
    bad = random.random(len(spools)) < 1 - (1 - plan.background) * (1 - spoil)
    return Season(runs, made_of, spools, bad, judged, None if cause is None else names[cause])


def _runs(
    random: np.random.Generator, plan: SeasonPlan
) -> tuple[dict[str, dict[str, float]], tuple[InventedRun, ...]]:
    """Make what each batch is of, and the runs one after the other."""
    made_of: dict[str, dict[str, float]] = {}
    values = {f"setting {key}": int(random.integers(plan.values)) for key in range(plan.settings)}
    left_g, heel, runs = 0.0, "", []
    for number in range(plan.runs):
        wanted_g, fed = 1000 * random.uniform(*plan.run_kg), []
        while wanted_g > 50:
            if left_g <= 50:
                batch, left_g = f"B{len(made_of)}", 1000 * random.uniform(*plan.batch_kg)
                made_of[batch] = _batch(random, plan, len(made_of))
            part = min(1000 * random.uniform(*plan.refill_kg), left_g, wanted_g)
            fed.append((batch, round(1000 * part)))
            left_g, wanted_g = left_g - part, wanted_g - part
        runs.append(_run(random, plan, number, fed, heel, values))
        heel = f"H{number}"
    return made_of, tuple(runs)


def _batch(random: np.random.Generator, plan: SeasonPlan, number: int) -> dict[str, float]:
    """Mix a batch of collections in stock, of which a new one comes in with every batch."""
    parts = random.integers(plan.parts[0], plan.parts[1] + 1)
    chosen = number + random.choice(plan.in_stock, size=parts, replace=False)
    amount = random.uniform(0.5, 1.5, size=parts)
    return {f"C{one}": float(a / amount.sum()) for one, a in zip(chosen, amount, strict=True)}


def _run(
    random: np.random.Generator,
    plan: SeasonPlan,
    number: int,
    fed: list[tuple[str, int]],
    heel: str,
    values: dict[str, int],
) -> InventedRun:
    """Cut spools until less than half of one is left; a gram passes in a second."""
    fed_mg = sum(mass_mg for _, mass_mg in fed)
    held_mg = 1000 * plan.heel_g if heel else 0
    outputs = [(f"T{number}", 150_000, None)]
    rest = fed_mg + held_mg - 1000 * plan.heel_g - 150_000
    while rest > 500 * plan.spool_g:
        mass_mg = min(rest, 1000 * plan.spool_g)
        outputs.append((f"S{number}.{len(outputs)}", mass_mg, None))
        rest -= mass_mg
    outputs.append((f"W{number}", max(rest, 0), None))
    given = tuple(lot for lot, _, _ in outputs)
    outputs.append((f"H{number}", 1000 * plan.heel_g, None))
    draws: dict[str, int] = defaultdict(int)
    for lot, mass_mg in [*([(heel, held_mg)] if heel else []), *fed]:
        draws[lot] += mass_mg
    log = FeedLog(frozenset({heel}) if heel else frozenset(), tuple(fed), given, f"H{number}")
    bands = ("short", "long", "very long")
    opened = tuple(str(random.choice(bands, p=plan.open_chances)) for _ in fed)
    changes = {key: [(START, f"{value}")] for key, value in values.items()}
    for _ in range(random.integers(plan.changes + 1)):
        key = f"setting {random.integers(plan.settings)}"
        values[key] = int(random.integers(plan.values))
        at = START + timedelta(seconds=random.uniform(0, fed_mg / 1000))
        changes[key].append((at, f"{values[key]}"))
    told = {key: tuple(sorted(ones)) for key, ones in changes.items()}
    return InventedRun(RunMasses(tuple(draws.items()), tuple(outputs)), log, opened, told)


def _with_heel(runs: Iterable[InventedRun], heel_mg: int) -> tuple[InventedRun, ...]:
    """Give the runs with another hold-up: what the heel has more, the last output has less."""
    changed = []
    for run in runs:
        masses, log = run.masses, run.log
        draws = tuple((lot, heel_mg if lot in log.heels else mg) for lot, mg in masses.draws)
        outputs = tuple(
            (lot, heel_mg if lot == log.left else mg, None) for lot, mg, _ in masses.outputs
        )
        changed.append(replace(run, masses=RunMasses(draws, outputs)))
    return tuple(changed)


def recorded_shares(
    runs: Sequence[InventedRun], made_of: Mapping[str, Mapping[str, float]], in_order: bool = True
) -> tuple[list[Name], Shares]:
    """Trace every spool back, by the feed order that is recorded or run-mixed.

    Parameters
    ----------
    runs : sequence of InventedRun
        The runs, in order of time.
    made_of : mapping of batch to mapping of collection to float
        Shares of collections in each batch.
    in_order : bool
        False for the shares of the whole run, and every value ever set in it counted as one.

    Returns
    -------
    candidates : list of (kind, name)
    shares : Shares
        Of the spools in the order cut.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> made = season(1)
    >>> names, shares = recorded_shares(made.runs, made.made_of)
    >>> shares.spools == len(made.spools), ("batch", "B0") in names
    (True, True)
    """
    numbers: dict[Name, int] = {}

    def number(kind: str, name: str) -> int:
        return numbers.setdefault((kind, name), len(numbers))

    passings = {
        f"mix {batch}": Passing(
            tuple(Drawn(one, share, (number("collection", one),)) for one, share in parts.items()),
            (number("batch", batch),),
            (batch,),
        )
        for batch, parts in made_of.items()
    }
    for place, run in enumerate(runs):
        passings[f"run {place}"] = _passing(run, place, number, in_order)
    spools = [lot for run in runs for lot, _, _ in run.masses.outputs if lot[0] == "S"]
    row, mark, share = of_rows(spools, carried(passings, len(numbers)))
    return list(numbers), listed_shares(row, mark, share, len(spools), len(numbers))


def _passing(run, place, number, in_order) -> Passing:
    masses, log = run.masses, run.log
    taken = portions(masses.draws, log)
    bands = iter(run.open_band)
    drawn = tuple(
        Drawn(
            one.lot,
            one.mass_mg,
            () if one.lot in log.heels else (number("open", next(bands)),),
        )
        for one in taken
    )
    gave = tuple(lot for lot, _, _ in masses.outputs)
    marks = (number("run", f"{place}"),)
    met = {
        key: {value: number("setting", f"{key}={value}") for _, value in changes}
        for key, changes in run.changes.items()
    }
    if not in_order:
        ever = tuple(one for values in met.values() for one in values.values())
        return Passing(drawn, (*marks, *ever), gave)
    mass_mg = {lot: mg for lot, mg, _ in masses.outputs}
    end = START + timedelta(seconds=sum(mass_mg[lot] for lot in log.given) / 1000)
    made = intervals(START, dict.fromkeys([*log.given, log.left], end), mass_mg, log.left, True)
    borne = {
        lot: {
            met[key][value]: part
            for key, changes in run.changes.items()
            for value, part in in_force(changes, interval).items()
        }
        for lot, interval in made.items()
    }
    return Passing(drawn, marks, gave, parts_given(masses, log), borne)


@dataclass(frozen=True)
class Found:
    """How the search went in one season.

    Attributes
    ----------
    rank : int or None
        Place of the line with the cause; None where nothing is planted.
    tied : int
        Candidates of it.
    stated : tuple of (float, bool)
        Chance stated for each line, and whether it has the cause.
    none_leads : bool
        Whether "none of these" is the likeliest reading.
    """

    rank: int | None
    tied: int
    stated: tuple[tuple[float, bool], ...]
    none_leads: bool


def searched(made: Season, in_order: bool = True, priors: SuspectPriors | None = None) -> Found:
    """Search a season for its cause and compare with the truth.

    Parameters
    ----------
    made : Season
        From ``season``.
    in_order : bool
        Whether shares go by the order fed; run-mixed else.
    priors : SuspectPriors, optional
        What is believed beforehand.

    Returns
    -------
    Found

    Examples
    --------
    >>> searched(season(4, "batch")).rank
    1
    """
    names, shares = recorded_shares(made.runs, made.made_of, in_order)
    found = weigh_suspects(shares, made.standing, priors or USUAL)
    shown = ranking(found, limit=len(found.posterior))
    cause = names.index(made.cause) if made.cause else None
    line = next((one for one in shown.lines if cause in one.members), None)
    return Found(
        rank=None if cause is None else line.rank if line else len(shown.lines) + 1,
        tied=len(line.members) if line else 0,
        stated=tuple((one.posterior, cause in one.members) for one in shown.lines),
        none_leads=shown.none_posterior >= max((one.posterior for one in shown.lines), default=0.0),
    )
