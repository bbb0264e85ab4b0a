"""On pages: what is unusual lies behind what is usual, is said beside "recorded", and stays."""

from __future__ import annotations

import re

from recycling.models import FigureDoubt
from recycling.queries.integrity.audit import audit
from recycling.queries.lots.lots import lot_page
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_record import run_record
from tests.factories import KG, START
from tests.web.recording.conftest import form_of, text_of

MORNING = "2024-03-01T09:00"


def code_in(page: str, letter: str) -> str:
    return re.search(rf"\b{letter}\d+-[0-9A-Z]\b", page)[0]


def test_a_lot_that_is_unusual_here_stands_behind_the_others(lead, bag):
    dried, flake = bag("dried flake", 2 * KG), bag("flake", 2 * KG)
    page = lead.open("record/extrude/").content.decode()
    group = page.index('<optgroup label="Something else, unusual here">')
    assert page.index(f'<option value="{flake}"') > group
    assert page.index(f'value="{dried}"') < group


def test_undried_flake_is_said_and_taken(lead, bag):
    flake = bag("flake", 2 * KG)
    typed = {"started_at": MORNING, "inputs__0__code": flake, "inputs__0__all": "on"}
    typed |= {"machine_extrude": "The extruder", "outputs__0__net": "1900 g"}
    form = lead.fill("record/extrude/", **typed, outputs__0__spool="on")
    review = lead.send("record/extrude/", form)
    said = f"{flake} (flake of PET) went into the melt without having been dried"
    assert said in text_of(review)
    answer = lead.send("record/extrude/", form_of(review), step="record")
    saved = lead.client.get(answer.url)
    assert said in text_of(saved)
    assert "data-unusual" in saved.content.decode()
    run, spool = (code_in(saved.content.decode(), letter) for letter in "RS")
    for path in (f"runs/{run}/", f"lots/{spool}/"):
        assert said in text_of(lead.open(path))
    german = lead.client.get(lead.url(f"lots/{spool}/"), headers={"accept-language": "de"})
    assert f"{flake} (Flakes aus PET) kam ungetrocknet in die Schmelze" in text_of(german)
    assert audit(lead.actor.workshop_id) == []


def test_a_rest_of_the_hopper_goes_back(lead, bag):
    lot = bag("clean bottles", 2 * KG)
    typed = {"started_at": MORNING, "inputs__0__code": lot, "inputs__0__all": "on"}
    form = lead.fill("record/shred/", **typed, outputs__0__net="1490 g")
    asked = lead.send("record/shred/", {**form, "more": "outputs:back"})
    form = lead.typed(form_of(asked))
    place = next(name for name in form if re.fullmatch(r"outputs-3-(net|gross)", name))
    form[place.replace("gross", "net")] = ["500 g"]
    review = lead.send("record/shred/", form)
    answer = lead.send("record/shred/", form_of(review), step="record")
    assert answer.status_code == 302, text_of(answer)
    page = lead.client.get(answer.url).content.decode()
    codes = re.findall(r"\bL\d+-[0-9A-Z]\b", page)
    lots = {lot_page(lead.actor, code).role: lot_page(lead.actor, code) for code in codes}
    assert lots["returned"].form == "clean bottles" and lots["returned"].mass_mg == KG // 2


def test_a_lot_offers_what_is_usual_and_behind_it_the_rest(lead, bag):
    page = lead.open(f"lots/{bag('caps', KG)}/").content.decode()
    usual, rest = page.split("<summary>Something else</summary>")
    assert "record/dispatch/?lot=" in usual and "record/shred/?lot=" in usual
    assert "record/extrude/?lot=" in rest and "record/extrude/?lot=" not in usual


def test_the_day_proposes_by_polymer(lead, bag):
    bag("flake", KG)
    bag("flake", KG, polymer="PP")
    page = lead.open("").content.decode()
    waiting = dict(re.findall(r'record/(\w+)/"[^>]*>[^<]*(PET|PP)', page))
    assert "record/dry/" in page and "record/extrude/" in page, waiting


def test_a_likely_slip_is_asked_on_the_review_and_put_right_by_one_tap(lead):
    def fill(mass):
        form = lead.fill("collections/new/", source="North school", bags__0__gross=mass)
        return form | {"step": ["review"]}

    for mass in ("1.1 kg", "1.2 kg", "1.3 kg", "1.15 kg", "1.24 kg", "1.4 kg", "1.32 kg", "1.2 kg"):
        review = lead.send("collections/new/", fill(mass))
        assert "It is right" not in text_of(review)
        lead.send("collections/new/", form_of(review), step="record")
    asked = lead.send("collections/new/", fill("12.4 kg"))
    assert "here 1.100 kg to 1.400 kg are usual" in text_of(asked)
    assert 'name="instead" value="bags-0-gross=1.24 kg"' in asked.content.decode()
    right = lead.send("collections/new/", form_of(asked), instead="bags-0-gross=1.24 kg")
    assert "1.240" in text_of(right) and "are usual" not in text_of(right)
    key = re.search(r'name="confirmed" value="([^"]+)"', asked.content.decode())[1]
    answer = lead.send("collections/new/", form_of(asked), confirmed=key, step="record")
    assert "To look at" not in text_of(lead.client.get(answer.url))
    typed = fill("12.4 kg") | {"right": ["bags-0-gross=12.4 kg"]}
    assert "are usual" not in text_of(lead.send("collections/new/", typed))
    assert FigureDoubt.objects.filter(answered_by=lead.actor.reference).count() == 1


def test_tare_programme_and_side_polymer_are_proposed_as_they_were_last(lead, bag):
    names = {"source": "North school", "programme": "Clean quay", "step": ""}
    form = lead.fill("collections/new/", **names, bags__0__gross="2 kg", bags__0__tare="120 g")
    review = lead.send("collections/new/", form)
    answer = lead.send("collections/new/", form_of(review), step="record")
    assert answer.status_code == 302, text_of(answer)
    page = lead.open("collections/new/").content.decode()
    assert re.search(
        r'id="id_bags-0-tare"[^>]*value="120 g"|value="120 g"[^>]*id_bags-0-tare', page
    )
    assert '{"North school": "Clean quay"}' in page
    lot = bag("bottles", 2 * KG)
    inputs = (DrawEntry(lot, KG),)
    caps = (OutputEntry("clean bottles", KG // 2), OutputEntry("caps", KG // 10, "PP"))
    run_record(lead.actor, RunEntry("sort", START, START, inputs=inputs, outputs=caps))
    polymers = form_of(lead.open("record/sort/"))
    assert "PP" in [value for name, (value, *_) in polymers.items() if name.endswith("-polymer")]
