"""The pages of machines, energy, changeovers and checks, by a browser without script."""

from __future__ import annotations

import math
import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from recycling.calc.balance.coverage import half_interval
from recycling.models import EnergyFile, Machine, MachinePart
from recycling.queries.energy.machines import machine_page
from recycling.queries.energy.runs import run_energy
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.runs.entries import RunEntry, SettingEntry
from recycling.services.runs.run_open import run_log, run_open
from recycling.web.templatetags.energy import plain
from tests.energy.conftest import Shop, at, setting
from tests.factories import KG, START, MachineFactory
from tests.web.recording.conftest import form_of, text_of

MOST_QUERIES = 17
"""Twelve, and three on the page of a lot: history of its facts, what was unusual, its limits."""


@pytest.fixture
def shop(lead) -> Shop:
    MachineFactory(actor=lead.actor, name="Oven", kind="dryer")
    MachineFactory(actor=lead.actor, name="Barrel one", kind="extruder")
    return Shop(lead.actor)


@pytest.fixture
def places(shop, lead) -> dict[str, object]:
    """A dried lot, a spool, an open extrusion with a setting, a kept plan and a logged time."""
    dry, dried = shop.dry(shop.bag(), 0, 5, 3 * KG, settings=(setting("real_c", 140, 0),))
    shop.on(shop.part("Oven", "heater", 1200, 45), 0, 5)
    shop.reading("Oven", -1, 10)
    done = shop.extrude(dried, 6, 7, settings=(setting("zone_1_c", 265, 6),))
    spool = next(lot.code for lot in done.lots if lot.form == "filament")
    oven, barrel = shop.machine("Oven"), shop.machine("Barrel one")
    lead.recorded(f"machines/{barrel}/barrel/", holdup_g="41.5", source="weighed")
    window = {"material": "wide", "kind": "purge compound", "low_c": 170, "high_c": 320}
    lead.recorded("practice/windows/new/", source="data sheet", **window)
    lead.recorded(f"machines/{barrel}/changeover/", after="PLA")
    page = machine_page(shop.actor, oven)
    going = run_open(
        shop.actor,
        RunEntry("extrude", at(8), machine="Barrel one", inputs=(DrawEntry(dried, KG),)),
    ).code
    now = timezone.now()
    run_log(shop.actor, going, settings=(SettingEntry("zone_1_c", "270", now),))
    return {
        "oven": oven,
        "barrel": barrel,
        "dry": dry,
        "dried": dried,
        "spool": spool,
        "going": going,
        "time": page.times[0].id,
        "plan": 1,
    }


READ = [
    "energy/",
    "energy/?stage=dry",
    "machines/{oven}/",
    "machines/{barrel}/",
    "machines/{barrel}/changeover/",
    "runs/{dry}/",
    "runs/{dry}/energy/",
    "runs/{going}/energy/?part=1",
    "runs/{going}/",
    "lots/{spool}/",
    "lots/{spool}/energy/",
    "lots/{spool}/checks/",
    "lots/{dried}/checks/",
    "lots/{dried}/closest/",
    "practice/",
]
RECORD = [
    "machines/{oven}/times/new/",
    "machines/{oven}/phases/new/",
    "machines/{oven}/readings/new/",
    "machines/{oven}/files/new/",
    "machines/{oven}/time/{time}/take-back/",
    "machines/{barrel}/barrel/",
    "machines/{oven}/meter/",
    "lots/{dried}/particles/",
    "lots/{spool}/filament/",
    "runs/{going}/close/",
]
MANAGE = [
    "machines/{oven}/parts/new/",
    "practice/wait_min/",
    "practice/windows/new/",
    "practice/materials/drying/?polymer=PET",
    "practice/materials/hydrolysis/",
    "practice/tariffs/new/",
    "practice/factors/new/",
]


def test_every_page_opens_for_a_lead(lead, places):
    for path in READ + RECORD + MANAGE:
        with CaptureQueriesContext(connection) as asked:
            answer = lead.open(path.format(**places))
        assert answer.status_code == 200, path
        text = answer.content.decode()
        assert text.count("<h1") == (0 if "part=" in path else 1), path
        assert "style=" not in text and "onclick" not in text, path
        assert len(asked) <= MOST_QUERIES, (path, len(asked))


def test_a_viewer_reads_and_records_nothing(viewer, places):
    for path in READ:
        assert viewer.open(path.format(**places)).status_code == 200, path
    for path in RECORD + MANAGE:
        assert viewer.open(path.format(**places)).status_code == 403, path
    tap = viewer.send(f"machines/{places['oven']}/tap/", {"phase": "warm-up"})
    assert tap.status_code == 403


def test_an_operator_does_not_set_up(operator, places):
    for path in MANAGE:
        assert operator.open(path.format(**places)).status_code == 403, path


def test_another_workshop_sees_nothing(stranger, places):
    for path in READ[3:-1] + RECORD:
        assert stranger.open(path.format(**places)).status_code == 404, path
    heater = MachinePart.objects.get(name="heater")
    tap = stranger.send(f"machines/{places['oven']}/tap/", {"part": heater.pk, "on": "1"})
    assert tap.status_code == 404


def test_a_tap_on_the_machine_switches_a_part(lead, shop, places):
    path = f"machines/{places['oven']}/"
    heater = MachinePart.objects.get(name="heater").pk
    lead.send(path + "tap/", {"part": heater, "on": "1"})
    assert "heater goes off" in text_of(lead.open(path))
    lead.send(path + "tap/", {"part": heater, "on": "0"})
    assert "heater goes on" in text_of(lead.open(path))
    back = lead.send(path + "tap/", {"phase": "warm-up", "back": "https://elsewhere.example/"})
    assert back.url == lead.url(path)
    assert "Warm-up ends" in text_of(lead.open(path))


def test_of_a_reading_that_falls_it_is_asked_why_before_it_is_noted(lead, shop, places):
    """One tap says that the meter was replaced; nothing is kept until it is noted."""
    path = f"machines/{places['oven']}/readings/new/"
    before = len(machine_page(shop.actor, places["oven"]).readings)
    sent = lead.fill(path, reading_kwh="9,5") | {"step": ["review"]}
    asked = lead.send(path, sent)
    assert "Oven: 9.5 kWh is below 10 kWh, which it showed before. Why?" in text_of(asked)
    assert "It ran over its last digit and began again" in text_of(asked)
    assert len(machine_page(shop.actor, places["oven"]).readings) == before
    lead.send(path, form_of(asked), instead="fell_because=replaced")
    (latest, *_) = machine_page(shop.actor, places["oven"]).readings
    assert (latest.reading_kwh, latest.since_kwh, latest.fell_because) == (9.5, 9.5, "replaced")
    assert "The meter was replaced" in text_of(lead.open(f"machines/{places['oven']}/"))
    lead.send(path, lead.fill(path, reading_kwh="16") | {"step": ["review"]})
    assert machine_page(shop.actor, places["oven"]).readings[0].since_kwh == 6.5


def test_what_was_taken_back_needs_a_reason_and_counts_no_more(lead, shop, places):
    path = f"machines/{places['oven']}/time/{places['time']}/take-back/"
    assert lead.record(path, reason="").status_code == 422
    assert run_energy(shop.actor, places["dry"]).kwh == pytest.approx(2.7)
    lead.recorded(path, reason="wrong day")
    assert run_energy(shop.actor, places["dry"]).method == ""


@pytest.mark.django_db(transaction=True)
def test_a_file_is_seen_then_taken_by_pages_alone(lead, shop, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    run, _ = shop.dry(shop.bag(), 0, 2)
    oven = shop.machine("Oven")
    rows = "".join(
        f"{(at(0) + timedelta(minutes=minute)).isoformat()};600\n" for minute in range(121)
    )
    body = SimpleUploadedFile("log.csv", f"time;power_w\n{rows}".encode())
    path = f"machines/{oven}/files/new/"
    form = {"zone": "Europe/Lisbon", "max_gap_min": "5", "repeated_hour": "by order"}
    answer = lead.client.post(lead.url(path), {**form, "rule": "trapezoid", "file": body})
    assert answer.status_code == 302
    page = lead.client.get(answer.url)
    assert "Take it: 1.200 kWh" in text_of(page)
    assert run_energy(shop.actor, run).method == ""
    file = EnergyFile.objects.get().pk
    lead.send(f"energy/files/{file}/take/", {})
    assert "count for the runs" in text_of(lead.client.get(answer.url))
    assert run_energy(shop.actor, run).kwh == pytest.approx(1.2)
    text = text_of(lead.open(f"machines/{oven}/"))
    assert "log.csv" in text and "power samples" in text


def test_how_sure_energy_is_stands_beside_it_with_its_source(lead, shop, places):
    """Rated power: 20 %, not checked; a meter of class 1: 2.7 kWh · 1 %/√3, IEC 62053-21."""
    path = f"runs/{places['dry']}/energy/"
    text = text_of(lead.open(path))
    # k = 2.31: the share from memory is itself known to a quarter, ν = 8 (GUM G.4.2)
    why = "k = 2.31, ν = 8; 100 % of it from the rated power of Oven"
    assert f"2.7 ± 1.2 kWh {why}" in text
    assert "20 % of it (default, not checked" in text
    oven = places["oven"]
    assert lead.record(f"machines/{oven}/meter/", source="its plate").status_code == 422
    meter = {"class_percent": "1", "step_kwh": "0.1", "source": "its plate"}
    lead.recorded(f"machines/{oven}/meter/", **meter)
    shop.reading("Oven", 0, 10.5)
    shop.reading("Oven", 5, 13.3)
    text = text_of(lead.open(path))
    # steps of 0.1 kWh in two readings, and a class of 1 % as a rectangle
    steps, limit = 0.1 / math.sqrt(6), 0.028
    assert f"2.800 ± {half_interval([limit], (steps, math.inf)):.3f} kWh" in text
    assert "class 1 (its plate)" in text
    assert "class 1: within 1 %" in text_of(lead.open(f"machines/{oven}/"))


def test_without_a_file_nothing_is_brought(lead, shop):
    answer = lead.send(f"machines/{shop.machine('Oven')}/files/new/", {"zone": "UTC"})
    assert answer.status_code == 422


def test_the_wait_is_on_the_runs_page_and_survives_a_reload(lead, places):
    path = f"runs/{places['going']}/"
    first, second = lead.open(path).content.decode(), lead.open(path).content.decode()
    assert "data-until" in first
    assert first.split("data-until")[0][-60:] == second.split("data-until")[0][-60:]
    assert "default, not checked" in first


def test_an_open_extrusion_leads_to_the_closest_earlier_runs(lead, places):
    text = text_of(lead.open(f"runs/{places['going']}/"))
    assert f"Closest earlier runs to {places['dried']}" in text
    assert "100" in text_of(lead.open(f"lots/{places['dried']}/closest/"))


def test_where_nothing_is_there_yet_no_empty_heading_stands_and_a_link_leads_on(lead):
    Machine.objects.all().delete()
    assert f'href="{lead.url("set-up/machines/")}">Add the machine' in (
        lead.open("energy/").content.decode()
    )
    MachineFactory(actor=lead.actor, kind="extruder", name="New barrel")
    run = run_open(lead.actor, RunEntry("extrude", START, machine="New barrel")).code
    assert "A starting point" not in text_of(lead.open(f"runs/{run}/"))


def test_closing_an_extrusion_proposes_the_purge(lead, places):
    text = text_of(lead.open(f"runs/{places['going']}/close/"))
    assert "Do not leave PET to set in the barrel: run 50 g" in text


def test_a_plan_is_kept_shown_and_held_against_what_it_took(lead, shop, places):
    from recycling.models import Changeover

    plan = Changeover.objects.get().pk
    text = text_of(lead.open(f"changeovers/{plan}/"))
    assert re.search(
        r"Feed 124 g of wide, until the melt shows no more PET.* · 16 min · 124 g", text
    )
    assert re.search(r"Time in all (\d h )?\d+ min", text) and "Needed, g" in text
    assert "In stock, g" in text and "too little" in text
    assert "ventilate" in text
    used = {"purge_used_mg": "230.258 g", "flush_used_mg": "230.258 g", "seen": "specks"}
    lead.recorded(f"changeovers/{plan}/used/", **used)
    text = text_of(lead.open(f"changeovers/{plan}/"))
    assert re.search("Purge compound 2[0-9]{2} g 230 g", text) and "specks" in text
    text = text_of(lead.open(f"machines/{places['barrel']}/changeover/"))
    assert "2 washings say 50.0 g" in text, text[-1500:]


def test_particles_say_run_again_and_a_wrong_value_says_which(lead, places):
    path = f"lots/{places['dried']}/particles/"
    answer = lead.record(path, sizes_mm="3.1 2,9 big")
    assert answer.status_code == 422
    assert "Value 3, “big”" in text_of(answer)
    lead.recorded(path, sizes_mm="3 3 3 3 3 3 3 3 3 4,2")
    text = text_of(lead.open(f"lots/{places['dried']}/checks/"))
    assert "Run it again" in text
    assert "44.5" in text


def test_a_spools_page_says_metres_left(lead, places):
    lead.recorded(f"lots/{places['spool']}/filament/", first_mm="1.74 1.76", second_mm="1.75 1.75")
    text = text_of(lead.open(f"lots/{places['spool']}/"))
    assert "Metres left" in text
    assert "Zone 1 265 °C" in text_of(lead.open(f"lots/{places['spool']}/checks/"))


def test_the_energy_page_has_its_figures_as_csv(lead, places):
    answer = lead.open("energy/?from=2024-01-01&to=2024-12-31&format=csv")
    rows = b"".join(answer.streaming_content).decode().splitlines()
    assert len(rows) == 3
    assert "2.700000" in rows[1]


def test_a_price_needs_its_source(lead):
    form = {"price_per_kwh": "0,31", "currency": "EUR"}
    answer = lead.record("practice/tariffs/new/", **form)
    assert answer.status_code == 422
    lead.recorded("practice/tariffs/new/", source="the bill of May", **form)
    assert "the bill of May" in text_of(lead.open("practice/"))


def test_a_recipe_that_is_out_of_bounds_is_refused_at_its_field(lead):
    path = "practice/materials/drying/?polymer=PET"
    answer = lead.record(path, least_c="150", most_c="140", source="trial")
    assert answer.status_code == 422
    assert "below the other" in text_of(answer)


def test_set_up_leads_to_each_machines_page(lead, places):
    text = lead.open("set-up/machines/").content.decode()
    url = lead.url(f"machines/{places['oven']}/")
    assert f'href="{url}">Oven</a>' in text


def test_a_bare_number_is_rounded_not_cut():
    assert [plain(value) for value in (2.9999999, 0.1 + 0.2, 0.25, 7, None, 1e9)] == [
        *("3", "0.3", "0.25", "7", "–", "1e+09")
    ]


def test_usual_periods_end_today_whatever_period_is_shown(lead):
    answer = lead.open("energy/?from=2020-01-01&to=2020-03-31")
    today = timezone.localdate()
    (month, *_rest) = answer.context["presets"]
    assert month["url"].endswith(f"from={today:%Y-%m}-01&to={today:%Y-%m-%d}")
    assert not any(one["current"] for one in answer.context["presets"])


def test_a_period_that_cannot_be_is_said_at_its_day(lead):
    answer = lead.open("energy/?from=yesterday")
    assert answer.status_code == 422 and b'id="period-from-error"' in answer.content
