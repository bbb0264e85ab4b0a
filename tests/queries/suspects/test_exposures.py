"""What each spool really got: by feed order and time, the same wherever it is asked for.

Expected figures: tests/checks/spool_shares.json (closed form of the mixed vessel, Levenspiel 1999,
chapter 11; a setting's share is the part of the spool's own interval in which it was in force).
"""

from __future__ import annotations

import json
import math
from datetime import timedelta

import pytest

from recycling.queries.suspects.affected import affected
from recycling.queries.suspects.exposures import exposures
from recycling.queries.suspects.spool_contents import spool_contents
from recycling.records.lots.mass_entries import DrawEntry, HeelEntry, OutputEntry
from recycling.records.runs.entries import CheckEntry, FeedEntry, RunEntry, SettingEntry
from recycling.services.runs import run_open
from recycling.services.runs.run_record import run_record
from tests.checked import check_text
from tests.factories import G
from tests.histories import Told, tell

pytestmark = pytest.mark.django_db

CHECK = json.loads(check_text("spool_shares.json"))
NAMES = {"start-up scrap": "R1.1", "spool 1": "R1.2", "spool 2": "R1.3", "shutdown purge": "R1.4"}
FORMS = ("start-up scrap", "filament", "filament", "changeover scrap")
MINUTES = 200


def dried(told: Told, name: str, ended_at) -> None:
    entry = RunEntry(
        "dry",
        ended_at - timedelta(hours=5),
        ended_at,
        machine=told._machine("dryer", "dryer"),
        inputs=(DrawEntry(told.code(f"P{name}.1"), 1000 * G),),
        outputs=(OutputEntry("dried flake", 1000 * G),),
        checks=(CheckEntry("hours_at_temperature", "5"), CheckEntry("kept", "open")),
    )
    told._keep(f"D{name}", run_record(told.actor, entry))


def fed_in_order() -> Told:
    """Record the run of the check at an even flow, and feed each lot as long open as it says."""
    told = tell("O1: heel PET 100g in extruder\nPA: flake PET 1kg\nPB: flake PET 1kg @0")
    start = told.now + timedelta(hours=30)
    grams = dict(CHECK["inputs"]["fed_in_order_g"])
    fed_at, at = {}, start
    for name, mass_g in grams.items():
        fed_at[name] = at
        dried(told, name, at - timedelta(hours=CHECK["inputs"]["open_h"][name]))
        at += timedelta(minutes=MINUTES * mass_g / sum(grams.values()))
    outputs = [mass_g * G for _, mass_g in CHECK["inputs"]["outputs_in_order_g"]]

    def when(passed_g):
        return start + timedelta(minutes=MINUTES * passed_g * G / sum(outputs))

    entry = RunEntry(
        "extrude",
        start,
        start + timedelta(minutes=MINUTES),
        machine="extruder",
        polymer="PET",
        inputs=(
            DrawEntry(told.code("O1.1"), 100 * G),
            *(DrawEntry(told.code(f"D{name}.1"), 1000 * G) for name in ("B", "A")),
        ),
        outputs=tuple(
            OutputEntry(form, mass_mg) for form, mass_mg in zip(FORMS, outputs, strict=True)
        ),
        heel=HeelEntry(CHECK["inputs"]["holdup_g"] * G),
        feeds=tuple(
            FeedEntry(fed_at[name], told.code(f"D{name}.1"), mass_g * G)
            for name, mass_g in grams.items()
        ),
        settings=tuple(
            SettingEntry("zone_1_c", str(value), when(passed_g))
            for passed_g, value in CHECK["inputs"]["zone_1_c_from_passed_g"]
        ),
        composition_model="feed order",
    )
    told._keep("R1", run_record(told.actor, entry))
    return told


def shares_of(told: Told, name: str) -> dict[str, float]:
    found = exposures([told.lot(name).pk])
    columns = found.shares.candidate.tolist()
    keys = [found.candidates[column].key for column in columns]
    return dict(zip(keys, found.shares.share.tolist(), strict=True))


def test_a_spool_has_the_origins_that_were_in_the_barrel_while_it_was_wound():
    told = fed_in_order()
    for said, name in NAMES.items():
        found, wanted = shares_of(told, name), CHECK["expected"]["shares"][said]
        contents = spool_contents(told.actor, told.code(name))
        parts = {part.candidate.key: part.share for part in contents.parts}
        for origin, share in wanted.items():
            key = f"origin:{told.code('O1' if origin == 'O' else f'P{origin}')}"
            assert found.get(key, 0.0) == pytest.approx(share, abs=2e-6)
            assert parts.get(key, 0.0) == pytest.approx(share, abs=2e-6)
            stored = told.composition(name).get("O1" if origin == "O" else f"P{origin}", 0)
            assert stored / told.lot(name).made_mg == pytest.approx(share, abs=3e-6)
    left = shares_of(told, "R1.heel")
    assert left[f"origin:{told.code('PB')}"] == pytest.approx(
        CHECK["expected"]["heel_after"]["B"], abs=2e-6
    )


def test_a_setting_counts_for_the_part_of_the_winding_in_which_it_was_in_force():
    told = fed_in_order()
    expected = CHECK["expected"]["zone_1_c"]
    for said in ("spool 1", "spool 2"):
        found = {
            key.rsplit(":", 1)[1][:3]: share
            for key, share in shares_of(told, NAMES[said]).items()
            if key.startswith("setting:extrude:zone_1_c:")
        }
        assert found == pytest.approx(expected[said], abs=2e-6)
    reached = affected(told.actor, "setting:extrude:zone_1_c:260 to 270 °C")
    shares = {lot.lot: lot.share for lot in (*reached.spools, *reached.stock)}
    assert shares[told.code("R1.2")] == pytest.approx(expected["spool 1"]["260"], abs=2e-6)
    assert told.code("R1.3") not in shares
    purge = affected(told.actor, "setting:extrude:zone_1_c:240 to 250 °C")
    made = {lot.lot for lot in (*purge.spools, *purge.stock)}
    assert made == {told.code("R1.4"), told.code("R1.heel")}


def test_time_open_goes_by_refill_and_its_share_by_what_each_spool_got():
    told = fed_in_order()
    for said, share in CHECK["expected"]["open_over_4_h"].items():
        found = shares_of(told, NAMES[said])
        assert found.get("open:4 h to 24 h", 0.0) == pytest.approx(share, abs=2e-6)


def test_one_lot_fed_in_two_refills_is_open_for_two_times():
    told = tell("PA: flake PET 2kg")
    at = told.now + timedelta(hours=20)
    told.tell("D1 dry PA.1 1kg -> dried flake 1kg @18")
    told.run("D1").checks.filter(key="kept").delete()
    told.run("D1").checks.create(key="kept", value="open", happened_at=at, written_at=at)
    ended = told.run("D1").ended_at
    early, late = ended + timedelta(minutes=5), ended + timedelta(hours=6)
    entry = RunEntry(
        "extrude",
        early,
        late + timedelta(hours=1),
        machine=told._machine("extruder", "extruder"),
        polymer="PET",
        inputs=(DrawEntry(told.code("D1.1"), 1000 * G),),
        outputs=(OutputEntry("filament", 500 * G), OutputEntry("filament", 500 * G)),
        feeds=(
            FeedEntry(early, told.code("D1.1"), 500 * G),
            FeedEntry(late, told.code("D1.1"), 500 * G),
        ),
        composition_model="feed order",
    )
    told._keep("R1", run_record(told.actor, entry))
    assert "open:4 h to 24 h" not in shares_of(told, "R1.1")
    assert shares_of(told, "R1.2")["open:4 h to 24 h"] == pytest.approx(1)


def test_what_was_set_after_a_spool_was_cut_is_never_in_it():
    told = tell("PA: pellets PET 2kg\nopen R1 extrude PA.1 2kg")
    run_open.run_log(
        told.actor, told.code("R1"), settings=[SettingEntry("zone_1_c", "265", told.now)]
    )
    told.tell("R1 gives filament 900g spool")
    run_open.run_log(
        told.actor,
        told.code("R1"),
        settings=[SettingEntry("zone_1_c", "245", told.now + timedelta(minutes=15))],
    )
    told.tell("R1 gives filament 900g spool\nclose R1 -> offcuts 100g")
    band = "setting:extrude:zone_1_c:240 to 250 °C"
    assert band not in shares_of(told, "R1.1")
    assert shares_of(told, "R1.2")[band] == pytest.approx(0.75)
    assert shares_of(told, "R1.2")["setting:extrude:zone_1_c:260 to 270 °C"] == pytest.approx(0.25)


def test_two_values_at_one_moment_are_not_known_and_never_the_whole():
    told = tell("PA: pellets PET 2kg")
    at = told.now + timedelta(hours=1)
    entry = RunEntry(
        "extrude",
        at,
        at + timedelta(hours=1),
        machine=told._machine("extruder", "extruder"),
        polymer="PET",
        inputs=(DrawEntry(told.code("PA.1"), 1000 * G),),
        outputs=(OutputEntry("filament", 1000 * G),),
        settings=(SettingEntry("zone_1_c", "255"), SettingEntry("zone_1_c", "265")),
    )
    told._keep("R1", run_record(told.actor, entry))
    found = shares_of(told, "R1.1")
    bands = [share for key, share in found.items() if key.startswith("setting:")]
    assert len(bands) == 2 and all(math.isnan(share) for share in bands)
    contents = spool_contents(told.actor, told.code("R1.1"))
    unknown = [part for part in contents.parts if part.candidate.kind == "setting"]
    assert [(part.share, part.mass_mg) for part in unknown] == [(None, None)] * 2


@pytest.mark.parametrize("model", ["well mixed", "feed order"])
def test_what_comes_back_out_of_the_hopper_was_fed_last_and_met_nothing(model):
    told = tell("PA: dried flake PET 1kg\nPB: dried flake PET 1kg")
    at = told.now + timedelta(hours=1)
    entry = RunEntry(
        "extrude",
        at,
        at + timedelta(hours=1),
        machine=told._machine("extruder", "extruder"),
        polymer="PET",
        inputs=tuple(DrawEntry(told.code(f"P{name}.1"), 1000 * G) for name in "AB"),
        outputs=(
            OutputEntry("filament", 800 * G),
            OutputEntry("filament", 700 * G),
            OutputEntry("dried flake", 400 * G, role="returned"),
        ),
        settings=(SettingEntry("zone_1_c", "265"),),
        composition_model=model,
    )
    told._keep("R1", run_record(told.actor, entry))
    for name in ("R1.1", "R1.2", "R1.3"):
        found, made_mg = shares_of(told, name), told.lot(name).made_mg
        for origin in ("PA", "PB"):
            stored = told.composition(name).get(origin, 0) / made_mg
            assert found.get(f"origin:{told.code(origin)}", 0.0) == pytest.approx(stored, abs=2e-5)
    second = {f"origin:{told.code('PB')}", f"lot:{told.code('PB.1')}"}
    assert shares_of(told, "R1.3").keys() == second
    assert shares_of(told, "R1.1")["setting:extrude:zone_1_c:260 to 270 °C"] == 1
    reached = affected(told.actor, told.code("PB"))
    shares = {lot.lot: lot.share for lot in (*reached.spools, *reached.stock)}
    for name in ("R1.1", "R1.2", "R1.3"):
        own = shares_of(told, name).get(f"origin:{told.code('PB')}", 0.0)
        assert shares.get(told.code(name), 0.0) == pytest.approx(own, abs=1e-6)
