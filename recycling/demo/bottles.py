"""From bags to flake: receiving, sorting, washing, cutting, shredding, screening."""

from __future__ import annotations

from recycling.demo.bench import KG, Bench, Item
from recycling.demo.cast import (
    BENCH,
    CRATE,
    CUTTER,
    PLATFORM,
    PROGRAMME_OF,
    SACK,
    SHREDDER,
    SIEVE,
    TARE_MG,
    TUB,
)
from recycling.records.lots.mass_entries import LossEntry, OutputEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.recorded import OriginRecorded, RunRecorded
from recycling.records.runs.entries import CheckEntry, RunEntry

COLOURS = ("clear", "clear", "clear", "light blue", "green")


def collect(bench: Bench, source: str, hour: float, bags_kg: list[float]) -> OriginRecorded:
    """Weigh in the bags of one collection."""
    bags = []
    for place, mass_kg in enumerate(bags_kg):
        container = CRATE if place % 2 else SACK
        net = bench.read_mg(mass_kg * KG, PLATFORM)
        counted = bench.rng.random() < 0.4
        bags.append(
            BagEntry(
                mass_mg=net,
                colour=bench.rng.choice(COLOURS),
                count=round(net / bench.about(27_500, 0.06)) if counted else None,
                weighing=bench.weighed(net, PLATFORM, TARE_MG[container]),
            )
        )
    return bench.receive(
        OriginEntry(
            "collection",
            bench.at(hour),
            tuple(bags),
            source=source,
            programme=PROGRAMME_OF.get(source, ""),
            consent="posted on the bin" if source.startswith("Bottle bin") else "",
        )
    )


def sort(bench: Bench, items: list[Item], hour: float) -> RunRecorded:
    """Take off caps, rings and labels; drain what is left in the bottles."""
    draws = bench.whole(items)
    mass = bench.drawn_mg(draws)
    caps, rings = bench.about(0.066, 0.08) * mass, bench.about(0.012, 0.1) * mass
    labels, reject = bench.about(0.026, 0.1) * mass, bench.about(0.028, 0.35) * mass
    residue = bench.about(0.014, 0.3) * mass
    missed = bench.rng.gauss(0.003, 0.003) * mass
    clean = mass - caps - rings - labels - reject - residue - missed
    outputs = (
        _made(bench, "clean bottles", clean, BENCH),
        _made(bench, "caps", caps, BENCH, "HDPE"),
        _made(bench, "rings", rings, BENCH, "HDPE"),
        _made(bench, "labels", labels, BENCH, "PP"),
        _made(bench, "reject", reject, BENCH, bench.rng.choice(["PET", "PET", "PP"])),
    )
    lost = LossEntry("residue", bench.read_mg(residue, BENCH), "drained into a beaker")
    return bench.work(
        RunEntry(
            "sort",
            bench.at(hour),
            bench.at(hour + bench.about(1.4, 0.2)),
            operators=("Tomas Lanternby",),
            inputs=draws,
            outputs=outputs,
            losses=(lost,),
            checks=(
                CheckEntry("adhesive_method", bench.rng.choice(["warm water", "scraper"])),
                CheckEntry("reject_reason", bench.rng.choice(["coloured", "dirty", "damaged"])),
            ),
        )
    )


def _made(
    bench: Bench, form: str, mass_mg: float, scale: str, polymer: str = "", note: str = ""
) -> OutputEntry:
    net = bench.read_mg(mass_mg, scale)
    return OutputEntry(form, net, polymer, weighing=bench.weighed(net, scale), note=note)


def wash(bench: Bench, items: list[Item], hour: float) -> RunRecorded:
    """Rinse off glue and dirt; a little water comes along, surface-dry."""
    draws = bench.whole(items)
    mass = bench.drawn_mg(draws)
    residue, water = bench.about(0.006, 0.3) * mass, bench.about(0.004, 0.4) * mass
    washed = mass - residue + water - bench.rng.gauss(0.001, 0.002) * mass
    return bench.work(
        RunEntry(
            "wash",
            bench.at(hour),
            bench.at(hour + 1.6),
            machine=TUB,
            inputs=draws,
            outputs=(_made(bench, items[0].form, washed, BENCH),),
            losses=(
                LossEntry("residue", bench.read_mg(residue, BENCH), "what the filter held, dried"),
                LossEntry("water", -bench.read_mg(water, BENCH), "from a sample in the oven"),
            ),
            checks=(
                CheckEntry("surface", "surface-dry"),
                CheckEntry("moisture_percent", f"{bench.about(0.6, 0.2):.1f}"),
                CheckEntry("water_c", f"{bench.about(52, 0.04):.0f}"),
            ),
        )
    )


def cut(bench: Bench, items: list[Item], hour: float) -> RunRecorded:
    """Cut bottles open; necks that are too thick for the shredder are set aside."""
    draws = bench.whole(items)
    mass = bench.drawn_mg(draws)
    necks = bench.about(0.07, 0.1) * mass
    pieces = mass - necks - abs(bench.rng.gauss(0, 0.002)) * mass
    return bench.work(
        RunEntry(
            "cut",
            bench.at(hour),
            bench.at(hour + 1.1),
            machine=CUTTER,
            inputs=draws,
            outputs=(
                _made(bench, "cut pieces", pieces, BENCH),
                _made(bench, "offcuts", necks, BENCH, note="necks"),
            ),
        )
    )


def shred(
    bench: Bench, draws: tuple, hour: float, typed_low_mg: int = 0, passes: int = 1
) -> RunRecorded:
    """Shred to flake; what is too coarse waits for the next time."""
    mass = bench.drawn_mg(draws)
    coarse, fines = bench.about(0.042, 0.25) * mass, bench.about(0.009, 0.3) * mass
    dust = bench.about(0.0015, 0.3) * mass
    flake = mass - coarse - fines - dust - bench.rng.gauss(0.002, 0.002) * mass
    above = bench.rng.choice([0, 0, 1, 2])
    largest = bench.about(4.9, 0.08) if above else bench.about(3.5, 0.06)
    return bench.work(
        RunEntry(
            "shred",
            bench.at(hour),
            bench.at(hour + bench.about(1.2, 0.2)),
            machine=SHREDDER,
            operators=("Tomas Lanternby",),
            inputs=draws,
            outputs=(
                _made(bench, "flake", flake - typed_low_mg, BENCH),
                _made(bench, "oversize", coarse, BENCH),
                _made(bench, "fines", fines, BENCH),
            ),
            losses=(LossEntry("dust", bench.read_mg(dust, BENCH), "what the extractor caught"),),
            checks=(
                CheckEntry("largest_mm", f"{largest:.1f}"),
                CheckEntry("sample_count", "30"),
                CheckEntry("above_count", str(above)),
                CheckEntry("pass_number", str(passes)),
            ),
        )
    )


def screen(bench: Bench, items: list[Item], hour: float) -> RunRecorded:
    """Sieve flake."""
    draws = bench.whole(items)
    mass = bench.drawn_mg(draws)
    coarse, fines = bench.about(0.021, 0.3) * mass, bench.about(0.007, 0.3) * mass
    flake = mass - coarse - fines - bench.rng.gauss(0.0012, 0.001) * mass
    return bench.work(
        RunEntry(
            "screen",
            bench.at(hour),
            bench.at(hour + 0.6),
            machine=SIEVE,
            inputs=draws,
            outputs=(
                _made(bench, "flake", flake, BENCH),
                _made(bench, "oversize", coarse, BENCH),
                _made(bench, "fines", fines, BENCH),
            ),
            checks=(
                CheckEntry("aperture_mm", "4"),
                CheckEntry("retained_percent", f"{100 * coarse / mass:.1f}"),
            ),
        )
    )
