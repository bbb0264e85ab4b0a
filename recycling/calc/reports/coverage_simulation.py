"""Invented periods of a workshop, to see how often the truth lies within what is stated.

Each period draws what is true (masses, a scale's error, tares, bottles, moisture, a meter's error),
then what people could read of it, and works out its figures from the readings alone, by the
functions that the book uses. Nothing of it is measured data.

Sources
-------
.. [1] JCGM 101:2008 (supplement 1 of the GUM): propagating distributions by Monte Carlo.
.. [2] OIML R 76-1:2006, table 6 and 3.5.2: limits of error in service.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from recycling.calc.balance.coverage import stated
from recycling.calc.balance.known_masses import Assumed, Known, Scale, sureness
from recycling.calc.balance.shared_errors import guessed
from recycling.calc.balance.weighing import maximum_permissible_error_mg
from recycling.calc.energy.totals import energy_total, meter_of, rated_of
from recycling.calc.guards import whole
from recycling.calc.quality.filament import metres_left
from shared.measured import RECTANGULAR, Measured, Source, total

G, KG = 1_000, 1_000_000
FLOOR = Scale("floor", "III", 20 * G, 60 * KG)
BENCH = Scale("bench", "III", 1 * G, 6 * KG)
FINE = Scale("fine", "III", 100, 300 * G)
SCALES = (FLOOR, BENCH, FINE)
USUAL = Assumed(counted_share=0.1, estimated_share=0.2, interval_mg=5 * G)
BOTTLES = (2, 3, 5, 10, 20)
"""Sizes of the sample of bottles, each as often."""

Figures = dict[str, tuple[float, Measured]]
"""Name of a figure → what is true, and what is stated."""


@dataclass
class Period:
    """One period: what is drawn once for all of it, and the figures that were worked out.

    `rng` draws; `z` is each scale's error as a part of its limit; `figures` fill up as it goes.
    """

    rng: np.random.Generator
    z: Mapping[str, float]
    bottles: int
    figures: Figures = field(default_factory=dict)
    readings: int = 0

    def read(self, true_mg: float, scale: Scale) -> int:
        """Read a load off a scale: its error in service [2]_, rounded to its steps, mg."""
        limit = maximum_permissible_error_mg(
            true_mg, scale.interval_mg, scale.accuracy_class, in_service=True
        )
        shown = true_mg + self.z[scale.name] * limit
        return round(shown / scale.interval_mg) * scale.interval_mg

    def known(self, mass_mg: float, how: str = "weighed", **said: object) -> Measured:
        """Give a typed mass as sure as the book has it, mg."""
        self.readings += 1
        known = Known(round(mass_mg), how, number=self.readings, **said)  # type: ignore[arg-type]
        return sureness(known, SCALES, USUAL).of(mass_mg)

    def weighed(self, true_mg: float, scale: Scale, tare: tuple[float, int] = (0, 0)) -> Measured:
        """Weigh something in a container of a true and a typed tare, mg."""
        true_tare_mg, tare_mg = tare
        net_mg = self.read(true_mg + true_tare_mg, scale) - tare_mg
        return self.known(net_mg, scale=scale, tare_mg=tare_mg)

    def container(self, about_mg: float, scale: Scale) -> tuple[float, int]:
        """Weigh a container empty, on another day's error of the scale: true and typed, mg."""
        true_mg = about_mg * self.rng.uniform(0.8, 1.2)
        limit = maximum_permissible_error_mg(
            true_mg, scale.interval_mg, scale.accuracy_class, in_service=True
        )
        off_mg = self.rng.uniform(-limit, limit)
        return true_mg, round((true_mg + off_mg) / scale.interval_mg) * scale.interval_mg

    def roughly(self, share: float) -> float:
        """Draw a relative error whose size is itself known to a quarter: a t of ν = 8."""
        return share * float(self.rng.standard_t(8))


def period(rng: np.random.Generator, bottles: int) -> Figures:
    """Invent a period and work out its figures.

    Parameters
    ----------
    rng : numpy.random.Generator
        Where chance comes from.
    bottles : int
        Bottles in the sample that counts rest on, at least 2.

    Returns
    -------
    dict of str to (float, Measured)
        The truth of each figure, and the figure: masses in mg, shares of 1, kWh/kg, metres.

    Raises
    ------
    ValueError
        For fewer than two bottles.
    """
    whole("bottles", bottles, least=2)
    z = {scale.name: float(rng.uniform(-1, 1)) for scale in SCALES}
    one = Period(rng, z, bottles)
    _collected(one)
    _melted(one)
    _recycled(one)
    _stock(one)
    _energy(one)
    _metres(one)
    return one.figures


def _collected(one: Period) -> None:
    """Bags weighed in three containers, counted by one sample, guessed; of two programmes."""
    rng = one.rng
    true_by: dict[str, float] = defaultdict(float)
    found_by: dict[str, list[Measured]] = defaultdict(list)
    crates = [one.container(2 * KG, FLOOR) for _ in range(3)]
    mean_mg, spread = rng.uniform(20, 45) * G, rng.uniform(0.03, 0.1)
    masses = [mean_mg * (1 + spread * rng.standard_normal()) for _ in range(one.bottles)]
    sample_mg = tuple(one.read(mass, FINE) for mass in masses)
    rule = one.roughly(USUAL.estimated_share)
    kinds: dict[str, tuple[list[float], list[Measured]]] = defaultdict(lambda: ([], []))
    numbers = {"weighed": rng.integers(5, 60), "counted": rng.integers(3, 25)}
    numbers["guessed"] = rng.integers(0, 3)
    for kind, number in numbers.items():
        for _ in range(number):
            true_mg, found = _bag(one, kind, crates, (mean_mg, spread, sample_mg), rule)
            kinds[kind][0].append(true_mg)
            kinds[kind][1].append(found)
            programme = "school" if rng.random() < 0.6 else "club"
            true_by[programme] += true_mg
            found_by[programme].append(found)
    for kind in ("weighed", "counted"):
        one.figures[f"{kind} bags"] = (math.fsum(kinds[kind][0]), total(kinds[kind][1]))
    everything = total(mass for _, listed in kinds.values() for mass in listed)
    true_mg = math.fsum(true_by.values())
    one.figures["collected, all"] = (true_mg, everything)
    school = total(found_by["school"]) / everything
    one.figures["share of one programme"] = (true_by["school"] / true_mg, school)


def _bag(
    one: Period,
    kind: str,
    crates: list[tuple[float, int]],
    bottles: tuple[float, float, tuple[int, ...]],
    rule: float,
) -> tuple[float, Measured]:
    rng = one.rng
    if kind == "weighed":
        true_mg = rng.uniform(1, 15) * KG
        return true_mg, one.weighed(true_mg, FLOOR, crates[rng.integers(len(crates))])
    if kind == "guessed":
        guess_mg = rng.uniform(1, 8) * KG
        return guess_mg * (1 + rule), one.known(guess_mg, "estimated", by=1)
    mean_mg, spread, sample_mg = bottles
    count = int(rng.integers(20, 250))
    true_mg = mean_mg * (count + spread * math.sqrt(count) * rng.standard_normal())
    typed_mg = count * math.fsum(sample_mg) / len(sample_mg)
    said = {"count": count, "sample_mg": sample_mg, "sample": "bottles", "scale": FINE}
    return true_mg, one.known(typed_mg, "counted", **said)


def _melted(one: Period) -> None:
    """Flake of a few lots drawn for melting, each with one moisture, and spools made of it."""
    rng, true_dry, drawn = one.rng, [], []
    spool = one.container(200 * G, BENCH)
    for lot in range(rng.integers(1, 5)):
        wet = rng.uniform(0.001, 0.03)
        step = 0.001
        noted = Source("moisture", f"lot {lot}", RECTANGULAR)
        moisture = Measured.of(round(wet / step) * step, {noted: step / math.sqrt(12)})
        for _ in range(rng.integers(1, 8)):
            true_mg = rng.uniform(0.5, 5) * KG
            true_dry.append(true_mg * (1 - wet))
            drawn.append(one.weighed(true_mg, BENCH) * (Measured(1.0) - moisture))
    dry_mg, melt = math.fsum(true_dry), total(drawn)
    one.figures["first melt, dry"] = (dry_mg, melt)
    product_mg = rng.uniform(0.6, 0.95) * dry_mg
    number = max(1, round(product_mg / (0.9 * KG)))
    made = [one.weighed(product_mg / number, BENCH, spool) for _ in range(number)]
    one.figures["product"] = (product_mg, total(made))
    one.figures["product of melt"] = (product_mg / dry_mg, total(made) / melt)


def _recycled(one: Period) -> None:
    """Spools of a run that began over a virgin heel which nobody weighed, well mixed."""
    rng = one.rng
    fed_mg, heel_mg = rng.uniform(0.3, 4) * KG, rng.uniform(0.03, 0.4) * KG
    fed = one.weighed(fed_mg, BENCH)
    heel = Measured.of(heel_mg, guessed("heel not weighed", 1, heel_mg, USUAL.estimated_share))
    true_heel_mg = heel_mg * (1 + one.roughly(USUAL.estimated_share))
    content, true = fed / (fed + heel), fed_mg / (fed_mg + max(true_heel_mg, 0.0))
    one.figures["recycled content, uncertain heel"] = (true, content)
    spool_mg = rng.uniform(0.3, 1.0) * fed_mg
    spool = one.weighed(spool_mg, BENCH, one.container(200 * G, BENCH))
    one.figures["recycled mass"] = (true * spool_mg, content * spool)


def _stock(one: Period) -> None:
    """A lot of flake on one scale: what was made less what was drawn."""
    rng = one.rng
    made_mg = rng.uniform(5, 40) * KG
    left, found = made_mg, one.weighed(made_mg, FLOOR)
    for _ in range(rng.integers(0, 12)):
        drawn_mg = rng.uniform(0.02, 0.15) * made_mg
        if drawn_mg < left:
            left, found = left - drawn_mg, found - one.weighed(drawn_mg, BENCH)
    one.figures["flake stock"] = (left, found)


def _energy(one: Period) -> None:
    """A meter of class 1 with steps, a dryer by rated power, over the product of the period."""
    rng = one.rng
    meter, rated = rng.uniform(-1, 1), rng.uniform(0, 0.4)
    true_kwh, found = 0.0, []
    for _ in range(rng.integers(1, 10)):
        kwh = rng.uniform(2, 12)
        true_kwh += kwh
        shown = round(kwh * (1 + 0.01 * meter) / 0.1) * 0.1
        common = 0.01 * shown / math.sqrt(3)
        read = Measured(shown, math.hypot(common, 0.1 / math.sqrt(12)))
        found.append((read, common, meter_of("extruder"), 1.0))
    dryer_kwh = rated * true_kwh
    estimate = Measured(dryer_kwh, 0.2 * dryer_kwh)
    found.append((estimate, estimate.u, rated_of("dryer"), 1.0))
    true_kwh += dryer_kwh * (1 + one.roughly(0.2))
    true_mg, product = one.figures["product"]
    found_kwh = energy_total(found)
    one.figures["kWh per kg"] = (true_kwh / true_mg * KG, (found_kwh / product).times(KG))


def _metres(one: Period) -> None:
    """What is left on a spool: mass, mean diameter of a few readings, micrometer, density."""
    rng = one.rng
    diameter, spread = rng.uniform(1.70, 1.80), rng.uniform(0.005, 0.03)
    off = rng.uniform(-0.005, 0.005)
    readings = diameter + off + spread * rng.standard_normal(int(rng.integers(3, 20)))
    n = len(readings)
    scatter = Source("diameter", 1, freedom=n - 1)
    micrometer = Source("micrometer", "bench", RECTANGULAR)
    mean = Measured.of(
        float(readings.mean()),
        {scatter: float(readings.std(ddof=1)) / math.sqrt(n), micrometer: 0.005 / math.sqrt(3)},
    )
    density = Measured.of(1.35, {Source("density", "PET", RECTANGULAR): 0.01 / math.sqrt(3)})
    true_density = 1.35 + rng.uniform(-0.01, 0.01)
    true_mg = rng.uniform(0.1, 1.0) * KG
    net = one.weighed(true_mg, BENCH, one.container(200 * G, BENCH)).times(1 / G)
    true_m = true_mg / G / (true_density * math.pi / 4 * diameter**2)
    one.figures["metres of filament"] = (true_m, metres_left(net, Measured(0.0), mean, density))


@dataclass(frozen=True)
class CoverageRow:
    """How often the truth lay within a figure's stated half-interval, over many periods.

    name: the figure. periods: how many. inside: share of them, 0 to 1. k: mean coverage factor.
    by_bottles: that share by the size of the sample of bottles.
    """

    name: str
    periods: int
    inside: float
    k: float
    by_bottles: Mapping[int, float]


def coverage(periods: int, seed: int) -> list[CoverageRow]:
    """Invent periods and count how often each figure's half-interval holds its truth [1]_.

    Parameters
    ----------
    periods : int
        How many, at least one of each size of sample.
    seed : int
        Of chance; the same gives the same.

    Returns
    -------
    list of CoverageRow
        A row for each figure. With n periods a true share of 0.95 is seen to √(0.95·0.05/n):
        0.003 for 4,000.

    Raises
    ------
    ValueError
        For too few periods.

    Examples
    --------
    >>> rows = coverage(20, seed=1)
    >>> len(rows), all(row.periods == 20 for row in rows)
    (12, True)
    """
    whole("periods", periods, least=len(BOTTLES))
    inside: dict[str, dict[int, list[bool]]] = defaultdict(lambda: defaultdict(list))
    factors: dict[str, list[float]] = defaultdict(list)
    for bottles, name, held, k in _seen(periods, seed):
        inside[name][bottles].append(held)
        factors[name].append(k)
    return [
        CoverageRow(
            name,
            len(factors[name]),
            float(np.mean([held for listed in by.values() for held in listed])),
            float(np.mean(factors[name])),
            {bottles: float(np.mean(listed)) for bottles, listed in sorted(by.items())},
        )
        for name, by in inside.items()
    ]


def _seen(periods: int, seed: int) -> Iterator[tuple[int, str, bool, float]]:
    for number, chance in enumerate(np.random.SeedSequence(seed).spawn(periods)):
        bottles = BOTTLES[number % len(BOTTLES)]
        for name, (true, found) in period(np.random.default_rng(chance), bottles).items():
            said = stated(found)
            yield bottles, name, abs(true - said.value) <= said.half, said.k
