"""From flake to spools: drying, extruding with purges and heels, winding."""

from __future__ import annotations

from datetime import datetime, timedelta

from recycling.calc.lots.feed_order import WELL_MIXED
from recycling.demo.bench import Bench, Item
from recycling.demo.cast import BALANCE, BENCH, DRYER, EXTRUDER, WINDER
from recycling.records.lots.mass_entries import (
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
)
from recycling.records.recorded import RunRecorded
from recycling.records.runs.entries import CheckEntry, FeedEntry, RunEntry, SettingEntry
from recycling.stages.declaration import RECIRCULATE

GRAM = 1_000
AREA_MM2 = 2.405
DENSITY_G_CM3 = {"PET": 1.38, "PLA": 1.24}
HOT = {
    "PET": {"zone_1_c": 248, "zone_2_c": 262, "zone_3_c": 268, "zone_4_c": 264, "screw_rpm": 16},
    "PLA": {"zone_1_c": 172, "zone_2_c": 188, "zone_3_c": 196, "zone_4_c": 192, "screw_rpm": 14},
}
"""Settings within common practice for each polymer; invented for the demo."""
DRYING = {"PET": (152, 5.0, 0.45, 0.015), "PLA": (52, 4.0, 0.30, 0.02)}
"""Temperature in °C, hours, and moisture in percent before and after; common practice."""
SEEN = (
    ("zone_4_c", -4, "surface rough at the die, smoother after ten minutes"),
    ("cooling_percent", 6, "strand oval, rounder after the change"),
    ("puller_mm_s", 2, "diameter high by 0.06 mm, back within tolerance"),
    ("screw_rpm", -1, "small bubbles, gone after a while"),
    ("zone_3_c", 3, "motor current high, lower now"),
)


def dry(bench: Bench, draws: tuple[DrawEntry, ...], hour: float, polymer: str) -> RunRecorded:
    """Drive the water out; the batch is sealed when it comes out."""
    set_c, hours, before, after = DRYING[polymer]
    mass, hours = bench.drawn_mg(draws), bench.about(hours, 0.08)
    before, after = bench.about(before, 0.15), bench.about(after, 0.3)
    water = (before - after) / 100 * mass
    dried = mass - water - abs(bench.rng.gauss(0.0008, 0.0008)) * mass
    start = bench.at(hour)
    log = [SettingEntry("set_c", str(set_c), seen="cold start")]
    for step in range(1, int(hours) + 1):
        real = bench.about(set_c - (6 if step == 1 else 1), 0.008)
        log.append(SettingEntry("real_c", f"{real:.0f}", start + timedelta(hours=step)))
    form = "dried flake" if polymer == "PET" else "pellets"
    made = bench.read_mg(dried, BENCH)
    return bench.work(
        RunEntry(
            "dry",
            start,
            start + timedelta(hours=hours + 0.4),
            machine=DRYER,
            inputs=draws,
            outputs=(OutputEntry(form, made, weighing=bench.weighed(made, BENCH)),),
            losses=(LossEntry("water", bench.read_mg(water, BENCH), "from both moistures"),),
            settings=tuple(log),
            checks=(
                CheckEntry("hours_at_temperature", f"{hours:.1f}"),
                CheckEntry("moisture_before_percent", f"{before:.2f}"),
                CheckEntry("moisture_after_percent", f"{after:.3f}"),
                CheckEntry("kept", "sealed" if bench.rng.random() < 0.9 else "open"),
            ),
        )
    )


def heel_of(bench: Bench) -> tuple[Item, ...]:
    """Find what is in the extruder."""
    return tuple(i for i in bench.shelf.values() if i.form == "heel" and i.mass_mg)


def extrude(
    bench: Bench,
    fed: tuple[DrawEntry, ...],
    hour: float,
    polymer: str = "PET",
    purged: tuple[DrawEntry, ...] = (),
    shut_with: bool = False,
    coil: bool = False,
    model: str = WELL_MIXED,
) -> RunRecorded:
    """Melt and draw; `purged` is compound fed first, or last when the day ends with it."""
    heel = heel_of(bench)
    draws = (*bench.whole(heel), *purged, *fed)
    mass, purge = bench.drawn_mg(draws), bench.drawn_mg(purged)
    old = sum(item.mass_mg for item in heel)
    volatiles = bench.about(0.0007, 0.3) * bench.drawn_mg(fed)
    left = bench.read_mg(bench.about(61 * GRAM, 0.09), BENCH)
    changeover = purge + old * bench.about(0.95, 0.03) - (left if shut_with else 0)
    scrap = bench.about(150 * GRAM, 0.3)
    filament = mass - changeover * (purge > 0) - scrap - left - volatiles
    filament -= bench.rng.gauss(0.002, 0.003) * mass
    outputs = [_scrap(bench, "start-up scrap", scrap, polymer)]
    outputs += _filament(bench, filament, polymer, coil)
    if purge:
        place = len(outputs) if shut_with else 0
        outputs.insert(place, _scrap(bench, "changeover scrap", changeover, "purge"))
    start, hours = bench.at(hour), bench.drawn_mg(fed) / 1e6 * bench.about(1.05, 0.1) + 0.7
    return bench.work(
        RunEntry(
            "extrude",
            start,
            start + timedelta(hours=hours),
            machine=EXTRUDER,
            operators=("Tomas Lanternby",) if bench.rng.random() < 0.6 else ("Ines Tidewhistle",),
            polymer=polymer,
            inputs=draws,
            outputs=tuple(outputs),
            losses=(LossEntry("volatiles", bench.read_mg(volatiles, BALANCE), "estimated"),),
            heel=HeelEntry(left, "purge" if shut_with else polymer),
            feeds=_feeds(bench, purged if not shut_with else (), fed, start, hours),
            settings=settings(bench, polymer, start, hours),
            checks=(
                CheckEntry("clean_after_purge", "yes" if purge else "not purged"),
                CheckEntry("seen", bench.rng.choice(["even strand", "one knot", "steady"])),
            ),
            composition_model=model,
        )
    )


def _filament(
    bench: Bench, mass_mg: float, polymer: str, coil: bool = False, wound: bool = False
) -> list[OutputEntry]:
    if coil:
        net = bench.read_mg(mass_mg, BENCH)
        return [OutputEntry("filament", net, polymer, note="coil, to be wound")]
    outputs, left = [], mass_mg
    while left > 380 * GRAM:
        share = min(bench.about(752 * GRAM, 0.012), left)
        outputs.append(spool(bench, share, polymer))
        left -= share
    return [*outputs, _scrap(bench, "offcuts", left, polymer, wound)]


def spool(bench: Bench, mass_mg: float, polymer: str) -> OutputEntry:
    """Say what one spool is: net mass, length, tare."""
    net = bench.read_mg(mass_mg, BALANCE)
    tare = bench.read_mg(bench.about(212 * GRAM, 0.015), BALANCE)
    metres = net / GRAM / (DENSITY_G_CM3[polymer] * AREA_MM2)
    return OutputEntry(
        "filament",
        net,
        polymer,
        colour="grey-green" if polymer == "PET" else "natural",
        spool=SpoolEntry(1.75, 0.05, tare, round(bench.about(metres, 0.012), 1)),
        weighing=bench.weighed(net, BALANCE, tare),
    )


def _scrap(
    bench: Bench, form: str, mass_mg: float, polymer: str, wound: bool = False
) -> OutputEntry:
    net = bench.read_mg(mass_mg, BENCH)
    again = form in ("start-up scrap", "offcuts") and polymer == "PET"
    role = RECIRCULATE if again and not wound else ""
    return OutputEntry(form, net, polymer, role=role, weighing=bench.weighed(net, BENCH))


def _feeds(
    bench: Bench,
    purged: tuple[DrawEntry, ...],
    fed: tuple[DrawEntry, ...],
    start: datetime,
    hours: float,
) -> tuple[FeedEntry, ...]:
    """Log refills of at most 1.2 kg, purge compound first."""
    refills = []
    for draw in (*purged, *fed):
        left = bench.drawn_mg([draw])
        while left > 0:
            part = min(left, bench.read_mg(bench.about(1_050 * GRAM, 0.08), BENCH))
            refills.append((draw.lot, part))
            left -= part
    step = timedelta(hours=hours / (len(refills) + 1))
    return tuple(
        FeedEntry(start + (place + 0.3) * step, lot, mass_mg)
        for place, (lot, mass_mg) in enumerate(refills)
    )


def settings(bench: Bench, polymer: str, start: datetime, hours: float) -> tuple[SettingEntry, ...]:
    """Log the settings of the start, and one to three changes with what was seen."""
    now = {key: round(bench.about(value, 0.006)) for key, value in HOT[polymer].items()}
    now |= {"cooling_percent": bench.rng.randrange(55, 75), "puller_mm_s": 31}
    log = [SettingEntry(key, str(value), start) for key, value in now.items()]
    moments = sorted(bench.rng.uniform(0.15, 0.8) for _ in range(bench.rng.randrange(1, 4)))
    for moment, (key, change, seen) in zip(moments, bench.rng.sample(SEEN, 3), strict=False):
        now[key] += change
        log.append(SettingEntry(key, str(now[key]), start + timedelta(hours=moment * hours), seen))
    return tuple(log)


def strip_down(bench: Bench, hour: float) -> RunRecorded:
    """Pull the screw and brush the barrel: nothing stays in the machine."""
    heel = heel_of(bench)
    mass = sum(item.mass_mg for item in heel)
    return bench.work(
        RunEntry(
            "extrude",
            bench.at(hour),
            bench.at(hour + 1.5),
            machine=EXTRUDER,
            polymer=heel[0].polymer,
            inputs=bench.whole(heel),
            outputs=(_scrap(bench, "changeover scrap", mass * 0.97, heel[0].polymer),),
            checks=(CheckEntry("seen", "specks of another plastic on the screw"),),
            note="Screw pulled and barrel brushed after complaints of brittle filament.",
        ),
        bench.lead,
    )


def wind(bench: Bench, coils: list[Item], hour: float) -> RunRecorded:
    """Wind coils onto spools and measure them."""
    draws = bench.whole(coils)
    outputs = _filament(bench, bench.drawn_mg(draws) - 1_500, coils[0].polymer, wound=True)
    mean = bench.about(1.752, 0.004)
    low, high = mean - abs(bench.about(0.03, 0.3)), mean + abs(bench.about(0.03, 0.3))
    return bench.work(
        RunEntry(
            "wind",
            bench.at(hour),
            bench.at(hour + 1.2),
            machine=WINDER,
            inputs=draws,
            outputs=tuple(outputs),
            checks=(
                CheckEntry("diameter_mean_mm", f"{mean:.3f}"),
                CheckEntry("diameter_min_mm", f"{low:.3f}"),
                CheckEntry("diameter_max_mm", f"{high:.3f}"),
                CheckEntry("ovality_mm", f"{abs(bench.about(0.02, 0.3)):.3f}"),
            ),
        )
    )
