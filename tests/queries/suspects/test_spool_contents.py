"""What is in one spool, and every deviation on its way, each where it was recorded."""

from __future__ import annotations

import pytest

from recycling.models import Machine, RunCheck, Spool
from recycling.queries.setup.practice import practice_rows
from recycling.queries.suspects.bands import FIRST_BANDS, bands_by
from recycling.queries.suspects.spool_contents import spool_contents
from recycling.records.lots.notes import LotEventEntry
from recycling.records.setup.practice import PracticeEntry
from recycling.services.lots.lot_notes import lot_event
from recycling.services.setup.practice import practice_set
from tests.histories import Told, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db) -> Told:
    return tell(
        "C1: bottles PET 10kg\nC2: bottles PET 10kg\nO1: heel HDPE 100g in extruder\n"
        "R1 sort C1.1 3kg, C2.1 1kg -> clean bottles 4kg\n"
        "R2 shred R1.1 all -> flake 3.5kg\n"  # 500 g of 4 kg unaccounted
        "R3 dry R2.1 2kg -> dried flake 2kg\n"
        "R4 extrude R3.1 1kg, O1.1 all -> filament 900g spool, heel 200g"
    )


def by_kind(found) -> dict[str, list]:
    kinds: dict[str, list] = {}
    for one in found.deviations:
        kinds.setdefault(one.kind, []).append(one)
    return kinds


def test_parts_say_what_share_came_from_and_through_what(told):
    found = spool_contents(told.actor, told.code("R4.1"))
    shares = {part.candidate.key: part.share for part in found.parts}
    flake = 1 / 1.1
    assert shares[f"origin:{told.code('C1')}"] == pytest.approx(0.75 * flake)
    assert shares[f"origin:{told.code('O1')}"] == pytest.approx(0.1 / 1.1)
    assert shares[f"run:{told.code('R3')}"] == pytest.approx(flake)
    assert shares[f"run:{told.code('R4')}"] == 1
    assert shares["heel:HDPE"] == pytest.approx(0.1 / 1.1)
    machine = Machine.objects.get(name="shredder").pk
    assert shares[f"machine:{machine}"] == pytest.approx(flake)
    origins = [part.mass_mg for part in found.parts if part.candidate.kind == "origin"]
    assert sum(origins) == pytest.approx(900_000, abs=2)
    assert told.code("R4.1") not in {part.candidate.code for part in found.parts}


def test_a_heel_of_another_polymer_and_what_does_not_balance_are_deviations(told):
    found = by_kind(spool_contents(told.actor, told.code("R4.1")))
    heel = found["heel"][0]
    assert (heel.run, heel.lot, heel.label, heel.share) == (
        told.code("R4"),
        told.code("O1.1"),
        "HDPE",
        pytest.approx(0.1 / 1.1),
    )
    assert [one.run for one in found["balance"]] == [told.code("R2")]
    assert found["balance"][0].label == "loss"


def test_a_check_outside_its_limit_is_the_worst(told):
    RunCheck.objects.create(
        run=told.run("R2"),
        key="largest_mm",
        value="9",
        within=False,
        happened_at=told.now,
        written_at=told.now,
    )
    first = spool_contents(told.actor, told.code("R4.1")).deviations[0]
    assert (first.kind, first.value, first.limit) == ("check", "9 mm", "4 mm")
    assert first.run == told.code("R2")
    assert first.share == pytest.approx(1 / 1.1)


def test_a_check_stored_as_outside_that_has_no_limit_is_still_a_deviation(told):
    RunCheck.objects.create(
        run=told.run("R2"),
        key="pass_number",
        value="2",
        within=False,
        happened_at=told.now,
        written_at=told.now,
    )
    first = by_kind(spool_contents(told.actor, told.code("R4.1")))["check"][0]
    assert (first.value, first.limit) == ("2", "")


def test_a_diameter_out_of_the_spools_tolerance_is_a_deviation(told):
    told.tell("W1 wind R4.1 all -> filament 890g spool")
    Spool.objects.filter(lot=told.lot("W1.1")).update(tolerance_mm=0.05)
    for key, value in (("diameter_min_mm", "1.72"), ("diameter_max_mm", "1,91")):
        RunCheck.objects.create(
            run=told.run("W1"), key=key, value=value, happened_at=told.now, written_at=told.now
        )
    found = by_kind(spool_contents(told.actor, told.code("W1.1")))
    assert [one.value for one in found["diameter"]] == ["1,91 mm"]


def test_a_run_that_is_still_open_is_a_deviation(told):
    told.tell("open E9 extrude R3.1 500g\nE9 gives filament 400g spool")
    found = by_kind(spool_contents(told.actor, told.code("E9.1")))
    assert [one.run for one in found["open run"]] == [told.code("E9")]


def test_time_open_after_drying_is_added_up_between_seals(told):
    """Dried at hour 6; sealed at 7, opened at 20, fed at 23: four hours open."""
    run = told.run("R3")
    dried_h = told.hour - 1
    told.tell(f"E9 extrude R3.1 500g -> filament 450g spool @{dried_h + 17}")
    found = by_kind(spool_contents(told.actor, told.code("E9.1")))
    assert found["not recorded"][0].lot == told.code("R3.1")
    from datetime import timedelta

    for kind, hours in (("sealed", 1), ("opened", 14)):
        at = run.ended_at + timedelta(hours=hours)
        lot_event(told.actor, LotEventEntry(told.code("R3.1"), kind, at))
    found = by_kind(spool_contents(told.actor, told.code("E9.1")))
    assert found["left open"][0].value == "4 h"
    RunCheck.objects.create(
        run=run, key="kept", value="sealed", happened_at=told.now, written_at=told.now
    )
    found = by_kind(spool_contents(told.actor, told.code("E9.1")))
    assert found["left open"][0].value == "3 h"


def note(told, run: str, **checks: str) -> None:
    for key, value in checks.items():
        RunCheck.objects.create(
            run=told.run(run), key=key, value=value, happened_at=told.now, written_at=told.now
        )


def test_what_is_as_it_should_be_has_no_deviation():
    told = tell(
        "C1: bottles PET 10kg\nR1 sort C1.1 3kg -> clean bottles 3kg\n"
        "R2 shred R1.1 all -> flake 3kg\nR3 dry R2.1 2kg -> dried flake 2kg\n"
        "R4 extrude R3.1 1kg -> filament 1kg spool"
    )
    note(told, "R3", kept="sealed", hours_at_temperature="4", moisture_after_percent="0.004")
    assert spool_contents(told.actor, told.code("R4.1")).deviations == ()


def test_another_workshops_spool_is_unknown(told):
    strange = tell("C1: bottles PET 1kg\nR1 sort C1.1 all -> clean bottles 1kg")
    code = next(c for c in ("S88-0", *strange.codes.values()) if c not in told.codes.values())
    with refused("lot-unknown"):
        spool_contents(told.actor, code)


def test_bands_are_named():
    assert [FIRST_BANDS.of_open(h) for h in (0.1, 0.25, 3, 24, 25, None)] == [
        "",
        "",
        "0.25 h to 4 h",
        "4 h to 24 h",
        "over 24 h",
        "not recorded",
    ]
    assert FIRST_BANDS.of_setting("255", "°C") == "250 to 260 °C"
    assert FIRST_BANDS.of_setting("259,5", "°C") == "250 to 260 °C"
    assert FIRST_BANDS.of_setting("-3", "°C") == "-10 to 0 °C"
    assert FIRST_BANDS.of_setting("7.5", "kg") == "7 to 8 kg"
    assert FIRST_BANDS.of_setting("fast", "") == "fast"


def test_bands_are_settings_of_the_workshop(told):
    def setting(key, value):
        practice_set(told.actor, PracticeEntry(key, value, "own trials"))
        return bands_by(practice_rows(told.actor.workshop_id))

    assert setting("band_c", 2.5).of_setting("256", "°C") == "255 to 257.5 °C"
    assert setting("open_limit_h", 1.5).of_open(1.4) == ""
    assert setting("open_limit_h", 5).of_open(6) == "5 h to 24 h"
    assert setting("open_limit_h", 30).of_open(31) == "over 30 h"
    with refused("number-out-of-bounds"):
        setting("band_mm_s", 0)


def test_the_limit_of_the_workshop_says_what_was_open_too_long():
    told = tell(
        "C1: bottles PET 10kg\nR1 sort C1.1 3kg -> clean bottles 3kg\n"
        "R2 shred R1.1 all -> flake 3kg\nR3 dry R2.1 2kg -> dried flake 2kg\n"
        "R4 extrude R3.1 1kg -> filament 1kg spool"
    )

    def left_open():
        parts = spool_contents(told.actor, told.code("R4.1")).parts
        return [part.candidate.key for part in parts if part.candidate.kind == "open"]

    practice_set(told.actor, PracticeEntry("open_limit_h", 0, "own trials"))
    assert left_open() == ["open:not recorded"]
    practice_set(told.actor, PracticeEntry("open_limit_h", 900, "own trials"))
    assert left_open() == []
