"""What the invented workshop measures: bottles, flake, filament; and how it works."""

from __future__ import annotations

from datetime import timedelta
from random import Random

from recycling.demo.bench import Bench
from recycling.demo.cast import BALANCE, EXTRUDER, STEP_MG
from recycling.queries.process.changeover_plans import changeover_planned
from recycling.queries.setup.register import machines
from recycling.records.balance.known_masses import SampleEntry
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.process.changeovers import ChangeoverEntry, UsedEntry
from recycling.records.quality.entries import FilamentEntry, ParticlesEntry
from recycling.records.recorded import RunRecorded
from recycling.records.runs.entries import RunEntry
from recycling.records.setup.practice import BarrelEntry, PracticeEntry, WindowEntry
from recycling.services.balance.samples import sample_add
from recycling.services.process import changeover_plan, changeover_used
from recycling.services.quality.measurements import filament_measure, particles_measure
from recycling.services.setup.practice import barrel_set, practice_set, window_set

SEED = 22
INVENTED = "invented for the demo"
PRACTICES = (("wait_min", 14), ("particle_allowed_percent", 7), ("open_limit_h", 1.5))
COMPOUND_WINDOW = WindowEntry(
    "Grey purge granules", "purge compound", 170, 310, f"data sheet, {INVENTED}"
)
HOLDUP_G, PLUG_SHARE = 62, 0.1
BOTTLES = (
    ("half litre, clear, with cap", 27.4, 0.9, 24),
    ("litre and a half, clear", 35.8, 1.4, 16),
)
LIMIT_MM, PLACES = 4.0, 10
SKIPPED_SAMPLES, SKIPPED_SPOOLS = 0.2, 0.6
AFTER = timedelta(minutes=5)


class Measuring:
    """What the people of the demo measure besides weighing."""

    def __init__(self, bench: Bench) -> None:
        self.bench, self.rng = bench, Random(SEED)
        named = {row.name: row.id for row in machines(bench.lead)}
        self.extruder = named[EXTRUDER]
        for key, value in PRACTICES:
            practice_set(bench.lead, PracticeEntry(key, value, f"agreed on a Monday, {INVENTED}"))
        window_set(bench.lead, COMPOUND_WINDOW)
        barrel = BarrelEntry(self.extruder, HOLDUP_G, PLUG_SHARE, 1, f"washed out, {INVENTED}")
        barrel_set(bench.lead, barrel)
        self._weigh_bottles()

    def _weigh_bottles(self) -> None:
        """Weigh bottles one by one, so that others need only be counted."""
        for name, mean_g, spread_g, count in BOTTLES:
            masses = (self.rng.gauss(mean_g, spread_g) for _ in range(count))
            steps = (round(1_000 * mass / STEP_MG[BALANCE]) for mass in masses)
            read = tuple(step * STEP_MG[BALANCE] for step in steps)
            sample_add(
                self.bench.operator, SampleEntry(name, read, BALANCE, self.bench.today, INVENTED)
            )

    def measure_day(self) -> None:
        """Measure some of what the runs of today gave."""
        for entry, done in self.bench.worked:
            if entry.stage == "shred" and self.rng.random() >= SKIPPED_SAMPLES:
                self._spread_out(entry, done)
            for lot in done.lots:
                if lot.code.startswith("S") and self.rng.random() >= SKIPPED_SPOOLS:
                    self._calliper(entry, lot.code)

    def _spread_out(self, entry: RunEntry, done: RunRecorded) -> None:
        """Measure the particles that the run's own check speaks of."""
        assert entry.ended_at is not None
        said = {check.key: float(check.value) for check in entry.checks}
        largest, above = said["largest_mm"], int(said["above_count"])
        low = min(largest, LIMIT_MM)
        sizes = [largest, *(self.rng.uniform(LIMIT_MM + 0.05, largest) for _ in range(above - 1))]
        while len(sizes) < said["sample_count"]:
            size = self.rng.lognormvariate(0.8, 0.28)
            if 0.5 < size < low:
                sizes.append(size)
        self.rng.shuffle(sizes)
        flake = next(lot.code for lot in done.lots if lot.form == "flake")
        read = tuple(round(size, 1) for size in sizes)
        particles_measure(self.bench.operator, ParticlesEntry(flake, read, entry.ended_at + AFTER))

    def _calliper(self, entry: RunEntry, spool: str) -> None:
        """Measure a spool's diameter at ten places, most often along two axes."""
        assert entry.ended_at is not None
        mean, oval = self.rng.gauss(1.752, 0.008), abs(self.rng.gauss(0.012, 0.006))
        first = [self.rng.gauss(mean + oval / 2, 0.011) for _ in range(PLACES)]
        second = [one - self.rng.gauss(oval, 0.005) for one in first]
        both = self.rng.random() < 0.8
        entry_of_spool = FilamentEntry(
            spool,
            tuple(round(one, 2) for one in first),
            tuple(round(one, 2) for one in second) if both else (),
            measured_at=entry.ended_at + AFTER,
        )
        filament_measure(self.bench.operator, entry_of_spool)

    def change_over(self, polymer: str, purged: tuple[DrawEntry, ...]) -> None:
        """Plan the way to another polymer, and note what the compound came to."""
        wanted = ChangeoverEntry(self.extruder, polymer, start_c=264, target_c=192)
        if not changeover_planned(self.bench.operator, wanted).possible:
            return
        plan = changeover_plan(self.bench.operator, wanted)
        seen = "clear strand after the compound; what pushed it out went to the start-up scrap"
        used = UsedEntry(plan, self.bench.drawn_mg(purged), seen=seen)
        changeover_used(self.bench.operator, used)
