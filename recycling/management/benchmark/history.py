"""A long invented history of a workshop, as plain rows: the same shapes as in the book."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

from recycling.calc.lots.recomposition import RunMasses
from recycling.stages.declaration import (
    HEEL,
    PRODUCT,
    RECEIVED,
    RECIRCULATE,
    SIDE,
    UNACCOUNTED,
    WASTE,
)

GRAM, KG = 1_000, 1_000_000
MINUTES_EACH = timedelta(minutes=6)
EXTRUDERS = ("extruder 1", "extruder 2", "extruder 3")
STRIPPED_AFTER = 40
STOPPED_AFTER = 25
"""Runs after which a barrel is stripped, or oversize is no longer sent round again: a spool's
history is then some hundred runs deep and not the whole book."""
SEED = 7


@dataclass(frozen=True)
class MadeLot:
    """A lot of the history: key, number, what it is, its mass in mg and its run's key."""

    key: int
    number: int
    form: str
    polymer: str
    role: str
    run: int
    mass_mg: int
    origin: int | None
    machine: str


@dataclass(frozen=True)
class MadeRun:
    """A run of the history; draws and losses map keys or names to masses in mg."""

    key: int
    number: int
    stage: str
    machine: str
    origin: int | None
    started_at: datetime
    ended_at: datetime
    draws: dict[int, int]
    losses: dict[str, int]
    lots: tuple[MadeLot, ...]

    @property
    def changes(self) -> Iterator[tuple[int | tuple[str, str], int]]:
        """Postings: account (a lot's key, or a border's name and polymer) and mass in mg."""
        yield from ((key, -mass_mg) for key, mass_mg in self.draws.items())
        yield from ((lot.key, lot.mass_mg) for lot in self.lots)
        yield from (((name, "PET"), mass_mg) for name, mass_mg in self.losses.items())
        rest = sum(self.draws.values()) - sum(lot.mass_mg for lot in self.lots)
        rest -= sum(self.losses.values())
        if rest:
            yield ((RECEIVED if self.stage == "receive" else UNACCOUNTED, "PET"), rest)


@dataclass
class History:
    """Rows made so far, with what is left of each lot; keys start after `key` and `origins`."""

    start: datetime
    key: int = 0
    number: int = 0
    origins: int = 0
    came: list[tuple[int, int, datetime]] = field(default_factory=list)
    runs: list[MadeRun] = field(default_factory=list)
    left: dict[int, int] = field(default_factory=dict)
    lots: dict[int, MadeLot] = field(default_factory=dict)
    pools: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    heels: dict[str, int] = field(default_factory=dict)
    served: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    rng: Random = field(default_factory=lambda: Random(SEED))

    def grow(self, count: int) -> None:
        """Go on until there are at least `count` lots; two are sorted and not yet shredded."""
        while len(self.lots) < count:
            self._collect_and_sort()
            if len(self.pools["clean bottles"]) >= 3:
                self._shred()
            while self._mass("flake") > 20 * KG:
                self._dry()
            while self._mass("dried flake") > 12 * KG:
                self._extrude()
        self._collect_and_sort()
        self._collect_and_sort()

    def masses(self) -> dict[int, RunMasses]:
        """Give the runs as the calculation of compositions takes them."""
        return {
            run.key: RunMasses(
                tuple(run.draws.items()),
                tuple((lot.key, lot.mass_mg, lot.origin) for lot in run.lots),
            )
            for run in self.runs
        }

    def _now(self) -> datetime:
        return self.start + MINUTES_EACH * len(self.runs)

    def _mass(self, form: str) -> int:
        return sum(self.left[key] for key in self.pools[form])

    def _next(self) -> int:
        self.key += 1
        return self.key

    def _number(self) -> int:
        self.number += 1
        return self.number

    def _take(self, form: str, wanted_mg: int) -> dict[int, int]:
        """Draw a mass from the pool of a form, from lots in random order."""
        draws: dict[int, int] = {}
        pool = self.pools[form]
        while pool and wanted_mg > 0:
            key = pool[self.rng.randrange(min(len(pool), 6))]
            mass = min(self.left[key], wanted_mg)
            draws[key] = draws.get(key, 0) + mass
            wanted_mg -= mass
            self.left[key] -= mass
            if not self.left[key]:
                pool.remove(key)
        return draws

    def _run(
        self,
        stage: str,
        draws: dict[int, int],
        outputs: list[tuple[str, str, int]],
        losses: dict[str, int] | None = None,
        machine: str = "",
        origin: int | None = None,
    ) -> MadeRun:
        key, number = self._next(), self._number()
        started = self._now()
        lots = []
        for form, role, mass_mg in outputs:
            polymer = {"caps": "HDPE", "rings": "HDPE", "labels": "PP"}.get(form, "PET")
            lot = MadeLot(
                self._next(),
                self._number(),
                form,
                polymer,
                role,
                key,
                mass_mg,
                origin,
                machine if form == HEEL else "",
            )
            lots.append(lot)
            self.lots[lot.key], self.left[lot.key] = lot, mass_mg
            self.pools[form].append(lot.key)
        run = MadeRun(
            key,
            number,
            stage,
            machine,
            origin,
            started,
            started + MINUTES_EACH / 2,
            draws,
            losses or {},
            tuple(lots),
        )
        self.runs.append(run)
        return run

    def _part(self, mass_mg: int, share: float) -> int:
        return max(1, round(mass_mg * share * self.rng.uniform(0.85, 1.15)))

    def _collect_and_sort(self) -> None:
        self.origins += 1
        self.came.append((self.origins, self._number(), self._now()))
        mass = round(self.rng.uniform(2.4, 7.6) * KG)
        self._run("receive", {}, [("bottles", PRODUCT, mass)], origin=self.origins)
        draws = self._take("bottles", mass)
        caps, rings, labels = (self._part(mass, share) for share in (0.066, 0.012, 0.026))
        reject, residue = self._part(mass, 0.03), self._part(mass, 0.014)
        clean = mass - caps - rings - labels - reject - residue - self._part(mass, 0.002)
        outputs = [
            ("clean bottles", PRODUCT, clean),
            ("caps", SIDE, caps),
            ("rings", SIDE, rings),
            ("labels", WASTE, labels),
            ("reject", WASTE, reject),
        ]
        self._run("sort", draws, outputs, {"residue": residue})

    def _shred(self) -> None:
        self.served["shredder"] += 1
        if self.served["shredder"] % STOPPED_AFTER == 0:
            self.pools["oversize"].clear()
        draws = self._take("clean bottles", 14 * KG) | self._take("oversize", 14 * KG)
        mass = sum(draws.values())
        coarse, fines, dust = (self._part(mass, share) for share in (0.042, 0.009, 0.0015))
        flake = mass - coarse - fines - dust - self._part(mass, 0.002)
        outputs = [("flake", PRODUCT, flake), ("oversize", RECIRCULATE, coarse)]
        self._run("shred", draws, [*outputs, ("fines", WASTE, fines)], {"dust": dust}, "shredder")

    def _dry(self) -> None:
        draws = self._take("flake", round(self.rng.uniform(5, 8) * KG))
        mass = sum(draws.values())
        water = self._part(mass, 0.005)
        outputs = [("dried flake", PRODUCT, mass - water - self._part(mass, 0.001))]
        self._run("dry", draws, outputs, {"water": water}, "dryer")

    def _extrude(self) -> None:
        machine = EXTRUDERS[self.rng.randrange(len(EXTRUDERS))]
        heel = self.heels.pop(machine, None)
        drawn = {heel: self.left[heel]} if heel is not None else {}
        if heel is not None:
            self.left[heel] = 0
            self.pools[HEEL].remove(heel)
        self.served[machine] += 1
        if drawn and self.served[machine] % STRIPPED_AFTER == 0:
            mass = sum(drawn.values())
            stripped = ("changeover scrap", WASTE, mass - self._part(mass, 0.02))
            self._run("extrude", drawn, [stripped], machine=machine)
            drawn = {}
        draws = drawn | self._take("dried flake", round(self.rng.uniform(2.7, 4.2) * KG))
        mass = sum(draws.values())
        scrap, left = self._part(150 * GRAM, 1), self._part(61 * GRAM, 1)
        volatiles = self._part(mass, 0.0007)
        rest = mass - scrap - left - volatiles - self._part(mass, 0.002)
        outputs = []
        while rest > 350 * GRAM:
            spool = min(rest, self._part(750 * GRAM, 1))
            outputs.append(("filament", PRODUCT, spool))
            rest -= spool
        outputs += [("start-up scrap", WASTE, scrap + rest), ("heel", HEEL, left)]
        run = self._run("extrude", draws, outputs, {"volatiles": volatiles}, machine)
        self.heels[machine] = run.lots[-1].key
