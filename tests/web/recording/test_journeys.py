"""From bags to a spool by pages alone, without script, and everything that puts right."""

from __future__ import annotations

import re
from datetime import datetime
from html import unescape
from zoneinfo import ZoneInfo

import pytest

from recycling.queries.balance.balance import balance_now
from recycling.queries.integrity.audit import audit
from recycling.queries.lots.lots import lot_page
from recycling.queries.runs.runs import run_page
from recycling.stages import STAGES
from tests.factories import KG, G
from tests.web.recording.conftest import form_of, text_of

LISBON = ZoneInfo("Europe/Lisbon")


def first_code(page: str, letter: str) -> str:
    return re.search(rf"\b{letter}\d+-[0-9A-Z]\b", page)[0]


def lots_of(page: str) -> list[str]:
    table = page[page.index("<table") :]
    return list(dict.fromkeys(re.findall(r"/lots/([LS]\d+-[0-9A-Z])/", table)))


def test_a_collection_with_three_bags(lead):
    """Gross and tare, a known container's tare, and a net mass; the lots are as weighed."""
    form = lead.fill("collections/new/", source="North school", programme="Clean quay")
    for _ in range(2):
        answer = lead.send("collections/new/", form, more="bags")
        assert answer.status_code == 200 and "Nothing is recorded yet" not in text_of(answer)
        form = form_of(answer)
    assert form["source"] == ["North school"], "what was typed before is still there"
    container = re.search(r'value="(\d+)">Blue crate', answer.content.decode())[1]
    lead.typed(form, bags__0__gross="4.310 kg", bags__0__tare="310 g")
    lead.typed(form, bags__1__gross="3250", bags__1__container=container)
    lead.typed(form, bags__2__net="12 oz", bags__2__colour="green", bags__2__count="17")
    answer = lead.send("collections/new/", form)
    page = lead.client.get(answer.url).content.decode()
    assert "4.000" in page and "North school" not in page
    first, second, third = lots_of(page)
    assert lot_page(lead.actor, first).mass_mg == 4 * KG
    assert lot_page(lead.actor, second).mass_mg == 2 * KG
    assert lot_page(lead.actor, third).mass_mg == 340_194
    assert lot_page(lead.actor, third).count == 17 and lot_page(lead.actor, third).colour == "green"


def test_an_empty_bag_row_is_no_bag(lead):
    form = form_of(lead.send("collections/new/", lead.fill("collections/new/"), more="bags"))
    lead.typed(form, source="North school", bags__1__net="2 kg")
    page = lead.client.get(lead.send("collections/new/", form).url).content.decode()
    assert len(lots_of(page)) == 1


def test_a_purchase_and_an_opening_count_with_a_heel(lead):
    bought = {"supplier": "Pellet works", "bags__0__form": "pellets", "bags__0__net": "25 kg"}
    lot = lots_of(lead.recorded("purchases/new/", **bought))[0]
    assert lot_page(lead.actor, lot).form == "pellets"
    heel = {"bags__0__form": "heel", "bags__0__machine": "The extruder", "bags__0__net": "300 g"}
    lot = lots_of(lead.recorded("opening/new/", **heel))[0]
    assert lot_page(lead.actor, lot).machine == "The extruder"


def test_a_whole_sorting_run_is_looked_over_first(lead, bag):
    lot, before = bag(), None
    typed = {
        "started_at": "2024-03-01T09:00",
        "ended_at": "2024-03-01T11:00",
        "inputs__0__code": lot.lower(),
        "inputs__0__all": "on",
        "outputs__0__net": "4.310 kg",
        "outputs__1__net": "212 g",
        "outputs__1__polymer": "HDPE",
        "losses__residue__mass": "440",
        "losses__residue__how": "weighed rinse sludge",
    }
    before = balance_now(lead.actor).sequence
    answer = lead.send("record/sort/", lead.fill("record/sort/", **typed))
    words = text_of(answer)
    assert answer.status_code == 200 and "Nothing is recorded yet" in words
    assert "4.310\xa0kg of clean bottles and 212\xa0g of caps from 5.000\xa0kg of " + lot in (
        answer.content.decode()
    )
    assert "38.0\xa0g unaccounted" in answer.content.decode()
    assert balance_now(lead.actor).sequence == before, "a review writes nothing"
    changed = lead.send("record/sort/", form_of(answer), step="change")
    assert form_of(changed)["outputs-1-net"] == ["212 g"]
    done = lead.send("record/sort/", form_of(answer), step="record")
    page = lead.client.get(done.url).content.decode()
    run = run_page(lead.actor, first_code(page, "R"))
    assert run.unaccounted_mg == 38 * G and run.product_mg == 4_310 * G
    assert run.started_at == datetime(2024, 3, 1, 9, tzinfo=LISBON)
    assert "Shred it" in page, "what comes next is offered"


@pytest.mark.parametrize(("size", "above"), [("4", False), ("5.5", True)])
def test_a_particle_above_the_limit_is_said_and_may_stand(lead, bag, size, above):
    typed = {"inputs__0__code": bag("clean bottles", 1 * KG), "inputs__0__all": "on"}
    typed |= {"started_at": "2024-03-01T09:00", "outputs__0__net": "1 kg"}
    form = lead.fill("record/shred/", **typed, checks__largest_mm=size)
    review = lead.send("record/shred/", form)
    said = f"Largest particle of a sample: {size} mm is above the limit of 4 mm: shred again or"
    assert (said in text_of(review)) is above
    done = lead.client.get(lead.send("record/shred/", form_of(review), step="record").url)
    assert (said in text_of(done)) is above
    page = text_of(lead.open(f"runs/{first_code(done.content.decode(), 'R')}/"))
    assert ("above the limit of 4 mm: shred again or screen it" in page) is above
    assert ("within its limit" in page) is not above


def test_a_gain_is_flagged_and_may_stand(lead, bag):
    lot = bag("clean bottles", 1 * KG)
    typed = {"inputs__0__code": lot, "inputs__0__all": "on", "outputs__0__net": "1.2 kg"}
    typed["started_at"] = "2024-03-01T09:00"
    review = lead.send("record/wash/", lead.fill("record/wash/", **typed))
    assert "More came out than went in" in text_of(review)
    done = lead.send("record/wash/", form_of(review), step="record")
    page = lead.client.get(done.url).content.decode()
    assert run_page(lead.actor, first_code(page, "R")).unaccounted_mg == -200 * G
    assert "More came out than went in" in page


def test_washing_gives_the_form_it_took_and_water_is_taken_up(lead, bag):
    lot = bag("flake", 2 * KG)
    page = lead.recorded(
        "record/wash/",
        started_at="2024-03-01T09:00",
        inputs__0__lot=lot,
        inputs__0__mass="1000",
        outputs__0__net="1.1 kg",
        losses__water__mass="100 g",
        losses__water__gain="on",
    )
    made = lot_page(lead.actor, lots_of(page)[0])
    assert made.form == "flake" and run_page(lead.actor, made.run).unaccounted_mg == 0


def test_an_extrusion_takes_the_heel_in_and_leaves_a_new_one(lead, bag):
    heel = {"bags__0__form": "heel", "bags__0__machine": "The extruder", "bags__0__net": "300 g"}
    old = lots_of(lead.recorded("opening/new/", happened_at="2024-01-05T08:00", **heel))[0]
    lot = bag("dried flake", 2 * KG)
    answer = lead.send("record/extrude/", lead.fill("record/extrude/"), more="feeds")
    form = lead.typed(
        form_of(answer),
        started_at="2024-03-01T09:00",
        ended_at="2024-03-01T12:00",
        inputs__0__code=lot,
        inputs__0__mass="1500",
        feeds__0__at="2024-03-01T09:30",
        feeds__0__lot=lot,
        feeds__0__mass="700",
        outputs__0__gross="1200",
        outputs__0__tare="200",
        outputs__0__spool="on",
        outputs__0__length_m="330",
        heel__mass="310",
        settings__zone_1_c="248",
    )
    review = lead.send("record/extrude/", form)
    assert review.status_code == 200, text_of(review)
    done = lead.send("record/extrude/", form_of(review), step="record")
    page = lead.client.get(done.url).content.decode()
    run = run_page(lead.actor, first_code(page, "R"))
    assert {one.lot for one in run.inputs} == {old, lot}
    assert run.inputs_mg == 1_800 * G and run.feeds[0].mass_mg == 700 * G
    spool = next(one for one in run.outputs if one.spool)
    facts = lot_page(lead.actor, spool.lot).spool
    assert facts.tare_mg == 200 * G and facts.length_m == 330 and facts.diameter_mm == 1.75
    assert run.settings[0].value == "248"


def test_a_run_from_opening_to_closing(lead, bag):
    lot = bag("flake", 3 * KG)
    opened = lead.recorded(
        "record/dry/open/",
        started_at="2024-03-01T09:00",
        inputs__0__code=lot,
        inputs__0__mass="2000",
    )
    code = first_code(opened, "R")
    lead.recorded(
        f"runs/{code}/draw/", at="2024-03-01T09:10", inputs__0__code=lot, inputs__0__all="on"
    )
    lead.recorded(f"runs/{code}/note/", settings__set_c="160", settings__seen="steady")
    lead.recorded(f"runs/{code}/loss/", at="2024-03-01T12:00", losses__water__mass="9")
    lead.recorded(f"runs/{code}/output/", at="2024-03-01T13:00", outputs__0__net="2.5 kg")
    page = lead.open(f"runs/{code}/close/").content.decode()
    assert page.index("The balance so far") < page.index("Look it over")
    assert "0.491" in page, "what is still inside is shown before"
    form = lead.fill(f"runs/{code}/close/", outputs__0__net="480", checks__kept="sealed")
    review = lead.send(f"runs/{code}/close/", form)
    assert "2.980\xa0kg of dried flake from 3.000\xa0kg" in review.content.decode()
    assert f"of {lot}; 9.00\xa0g lost as measured; 11.0\xa0g unaccounted" in review.content.decode()
    assert run_page(lead.actor, code).state == "open"
    lead.send(f"runs/{code}/close/", form_of(review), step="record")
    run = run_page(lead.actor, code)
    assert run.state == "closed" and run.unaccounted_mg == 11 * G
    assert [one.value for one in run.checks] == ["sealed"]
    assert run.settings[0].seen == "steady"


def test_a_run_is_opened_on_what_was_recorded_in_the_same_minute(lead):
    given = {"bags__0__form": "flake", "bags__0__net": "2 kg", "supplier": "Flake works"}
    lot = lots_of(lead.recorded("purchases/new/", **given))[0]
    opened = lead.recorded("record/dry/open/", inputs__0__code=lot, inputs__0__all="on")
    assert run_page(lead.actor, first_code(opened, "R")).inputs_mg == 2 * KG


def steps_after(page: str) -> dict[str, str]:
    """Read what is offered next: its words and its address."""
    found = re.findall(r'<a class="step[^"]*" href="([^"]*)">\s*<span[^>]*>([^<]*)', page)
    return {words.strip(): unescape(url) for url, words in found}


def test_what_comes_next_is_another_stage_and_what_goes_round_again_is_chosen(lead, bag):
    typed = {"started_at": "2024-03-01T09:00", "inputs__0__all": "on"}
    sorted_ = {"inputs__0__code": bag(), "outputs__0__net": "4 kg"}
    assert {"Cut it", "Shred it", "Wash it"} < set(
        steps_after(lead.recorded("record/sort/", **typed, **sorted_))
    )
    shredded = {"outputs__0__net": "3 kg", "outputs__1__net": "900 g"}
    page = lead.recorded(
        "record/shred/", inputs__0__code=bag("clean bottles", 4 * KG), **typed, **shredded
    )
    steps, (flake, oversize) = steps_after(page), lots_of(page)
    assert steps["Dry it"].endswith(f"?lot={flake}")
    assert steps["Shred again"].endswith(f"record/shred/?lot={oversize}")
    wound = {"inputs__0__code": bag("filament", 1 * KG), "outputs__0__net": "990 g"}
    assert "Wind it" not in steps_after(lead.recorded("record/wind/", **typed, **wound))


def test_dispatch_and_discard(lead, bag):
    caps = bag("caps", 4 * KG, "HDPE")
    typed = {"started_at": "2024-03-01T09:00", "inputs__0__code": caps, "inputs__0__mass": "3 kg"}
    page = lead.recorded("record/dispatch/", checks__receiver="Partner of the caps", **typed)
    assert lot_page(lead.actor, caps).mass_mg == 1 * KG and first_code(page, "R")
    lead.recorded(
        "record/discard/",
        checks__destination="landfill",
        checks__why="dirty",
        **typed | {"inputs__0__mass": "1 kg"},
    )
    assert lot_page(lead.actor, caps).mass_mg == 0


def test_a_figure_is_corrected_and_the_old_one_stays(lead, bag):
    lot = bag()
    posting = lot_page(lead.actor, lot).postings[0].posting
    page = text_of(lead.open(f"postings/{posting}/correct/"))
    assert "5.000\xa0kg" in lead.open(f"postings/{posting}/correct/").content.decode()
    assert "What it should have been" in page
    lead.recorded(f"postings/{posting}/correct/", mass="4.5 kg", reason="tare left out")
    record = lot_page(lead.actor, lot)
    assert record.mass_mg == 4_500 * G and record.postings[0].mass_mg == 5 * KG
    again = text_of(lead.open(f"postings/{record.postings[-1].posting}/correct/"))
    assert "tare left out" in again, "a correction leads to the figure it corrects"


def test_a_run_is_voided(lead, bag):
    lot = bag()
    typed = {"started_at": "2024-03-01T09:00", "inputs__0__code": lot, "inputs__0__all": "on"}
    code = first_code(lead.recorded("record/sort/", outputs__0__net="4 kg", **typed), "R")
    lead.recorded(f"runs/{code}/void/", reason="recorded twice")
    assert lot_page(lead.actor, lot).mass_mg == 5 * KG
    late = lead.open(f"runs/{code}/void/")
    assert late.status_code == 409 and "too late" in text_of(late)


def test_hold_release_event_verdict_and_count(lead, bag):
    lot = bag("filament", 1 * KG)
    lead.recorded(f"lots/{lot}/hold/", reason="smells", with_descendants="on")
    hold = lot_page(lead.actor, lot).holds[0]
    assert hold.with_descendants and hold.reason == "smells"
    assert "smells" in text_of(lead.open(f"holds/{hold.hold}/release/"))
    lead.recorded(f"holds/{hold.hold}/release/", reason="aired")
    assert not lot_page(lead.actor, lot).holds
    lead.recorded(f"lots/{lot}/event/", kind="moved", place="shelf 3")
    assert lot_page(lead.actor, lot).events[0].place == "shelf 3"
    lead.recorded(f"lots/{lot}/verdict/", good="bad", defects=["brittle"])
    assert lot_page(lead.actor, lot).verdicts[0].defects == ("brittle",)
    lead.recorded(f"lots/{lot}/count/", counts__0__mass="0")
    assert lot_page(lead.actor, lot).mass_mg == 0


def test_all_lots_of_a_collection_are_held(lead):
    page = lead.recorded("collections/new/", source="North school", bags__0__net="2 kg")
    code = first_code(page, "C")
    lead.recorded(f"lots/{code}/hold/", reason="wrong bin")
    assert lot_page(lead.actor, lots_of(page)[0]).holds


def test_a_viewer_may_judge_a_spool(viewer, bag):
    lot = bag("filament", 1 * KG)
    viewer.recorded(f"lots/{lot}/verdict/", good="good")
    assert lot_page(viewer.actor, lot).verdicts[0].good


def test_several_lots_are_counted_at_once(lead, bag):
    one, two = bag(), bag("caps", 1 * KG, "HDPE")
    form = lead.fill("record/count/", counts__0__lot=one, counts__0__mass="4.9 kg")
    form = form_of(lead.send("record/count/", form, more="counts"))
    lead.typed(form, counts__1__lot=two, counts__1__mass="1.05 kg")
    page = lead.client.get(lead.send("record/count/", form).url).content.decode()
    assert lot_page(lead.actor, one).mass_mg == 4_900 * G
    assert lot_page(lead.actor, two).mass_mg == 1_050 * G
    assert "50.0\xa0g was missing" in page


SET_UP = [
    ("sources", {"name": "Lake shop", "kind": "shop", "may_be_named": "on"}),
    ("programmes", {"name": "Spring", "target_mg": "500 kg", "starts_date": "2024-03-01"}),
    ("machines", {"name": "Second dryer", "kind": "dryer"}),
    ("scales", {"name": "Floor scale", "interval_mg": "20 g", "capacity_mg": "60 kg"}),
    ("containers", {"name": "Red crate", "tare_mg": "1300"}),
    ("polymers", {"code": "PS", "name": "polystyrene", "resin_code": "6", "density_g_cm3": "1,05"}),
    ("members", {"name": "Cy", "username": "cy", "role": "viewer", "password": "long enough 42"}),
]


@pytest.mark.parametrize("kind, typed", SET_UP, ids=[kind for kind, _ in SET_UP])
def test_everything_can_be_set_up(lead, kind, typed):
    lead.recorded(f"set-up/{kind}/", **typed)
    assert typed.get("name") in text_of(lead.open(f"set-up/{kind}/"))


def test_a_density_is_shown_with_where_it_comes_from(lead):
    assert "default, not checked" in text_of(lead.open("set-up/polymers/"))
    typed = {"code": "PS", "density_g_cm3": "1.05"}
    lead.recorded("set-up/polymers/", **typed)
    assert "source not given" in text_of(lead.open("set-up/polymers/"))
    lead.recorded("set-up/polymers/", **typed | {"code": "PA", "density_source": "maker's sheet"})
    assert "maker's sheet" in text_of(lead.open("set-up/polymers/"))


def test_a_name_that_is_taken_is_refused_at_its_field(lead):
    answer = lead.record("set-up/sources/", name="north school", kind="shop")
    assert answer.status_code == 422
    assert 'href="#id_name"' in answer.content.decode()


def test_a_key_is_shown_once_and_kept_nowhere(lead):
    form = lead.fill("set-up/keys/", label="bench scale", scope="record", days="30")
    answer = lead.send("set-up/keys/", form)
    secret = re.search(r"rl_[0-9a-f]{8}_[\w-]+", answer.content.decode())[0]
    assert answer["Cache-Control"] == "no-store"
    assert secret not in lead.open("set-up/keys/").content.decode()
    assert secret not in str(dict(lead.client.session))
    again = lead.send("set-up/keys/", form)
    assert again.status_code == 302 and secret not in lead.client.get(again.url).content.decode()
    key = re.search(r"keys/(\d+)/revoke", lead.open("set-up/keys/").content.decode())[1]
    lead.recorded(f"set-up/keys/{key}/revoke/")
    assert "not in force" in text_of(lead.open("set-up/keys/"))


def test_the_book_is_whole_after_it_all(lead, bag):
    test_an_extrusion_takes_the_heel_in_and_leaves_a_new_one(lead, bag)
    test_a_run_from_opening_to_closing(lead, bag)
    test_a_figure_is_corrected_and_the_old_one_stays(lead, bag)
    assert audit(lead.actor.workshop_id) == []


def test_machine_and_scale_are_remembered_for_this_device(lead, bag):
    lot = bag("clean bottles", 2 * KG)
    typed = {"started_at": "2024-03-01T09:00", "inputs__0__code": lot, "inputs__0__mass": "1 kg"}
    lead.recorded("record/shred/", scale="Bench scale", outputs__0__net="1 kg", **typed)
    form = form_of(lead.open("record/shred/"))
    assert form["scale"] == ["Bench scale"] and form["machine_shred"] == ["The shredder"]


def test_a_stage_that_is_added_gets_its_pages(lead, bag, monkeypatch):
    """A made-up stage; nothing in the pages knows of it."""
    from recycling.stages.declaration import Loss, Output, Stage
    from recycling.stages.fields import Field
    from recycling.stages.groups import usually

    grind = Stage(
        key="grind",
        title="Grind",
        summary="Grind flake finer.",
        usual=usually("flake"),
        gives=(Output("fines"),),
        losses=(Loss("dust"),),
        checks=(Field("mesh_mm", "Mesh", unit="mm", minimum=0, maximum=9, required=True),),
        cautions=("dust",),
    )
    monkeypatch.setattr("recycling.stages.STAGES", STAGES)
    STAGES.append(grind)
    try:
        assert "Grind flake finer." in text_of(lead.open("record/"))
        typed = {"started_at": "2024-03-01T09:00", "inputs__0__code": bag("flake", 1 * KG)}
        typed |= {"inputs__0__all": "on", "outputs__0__net": "980 g", "losses__dust__mass": "5 g"}
        refused = lead.record("record/grind/", **typed)
        assert refused.status_code == 422 and "#id_checks-mesh_mm" in refused.content.decode()
        page = lead.recorded("record/grind/", checks__mesh_mm="2", **typed)
        assert run_page(lead.actor, first_code(page, "R")).unaccounted_mg == 15 * G
    finally:
        STAGES.remove(grind)
