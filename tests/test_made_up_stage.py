"""The guide's own stage, added as the guide says: every room that asks of stages picks it up."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from textwrap import dedent

import polib
import pytest
from django.test import Client

from recycling.management.commands.catalogue import declared_words
from recycling.models import Run, User
from recycling.queries.balance.balance import stages_balance
from recycling.queries.balance.yields import yields
from recycling.queries.exchange.exports import exported
from recycling.records.exchange.exports import ExportWanted
from recycling.records.people import KeyEntry
from recycling.services.people.workshops import key_issue
from recycling.stages import STAGES, stage
from recycling.tables.exchange.epcis import epcis_lines
from tests.histories import Told, tell

ROOT = Path(__file__).resolve().parent.parent
GUIDE = (ROOT / "docs/guides/add_a_stage.md").read_text()
GERMAN = ROOT / "recycling/locale/de/LC_MESSAGES/django.po"
PRESSED = "R1 press O1.1 1kg -> pellets 940g, reject 45g, ~volatiles 5g"


def block(kind: str) -> str:
    """Take a block of code out of the guide."""
    return dedent(re.search(rf"( *)```{kind}\n(.*?)```", GUIDE, re.S)[2])


@pytest.fixture
def told(db) -> Iterator[Told]:
    """A book with scrap in it, and the stage of the guide in the list, before what leaves."""
    written: dict = {}
    exec(block("python"), written)
    made_up = written["STAGE"]
    STAGES.insert(STAGES.index(stage("shape")) + 1, made_up)
    try:
        yield tell("O1: offcuts PET 2kg; changeover scrap PET 1kg")
    finally:
        STAGES.remove(made_up)


@pytest.fixture
def open_page(told):
    client = Client()
    client.force_login(
        User.objects.get(memberships__pk=told.actor.member_id),
        backend="recycling.web.people.People",
    )

    def page(path: str, language: str = "en") -> str:
        answer = client.get(f"/w/{told.actor.slug}/{path}", headers={"accept-language": language})
        assert answer.status_code == 200, path
        return answer.content.decode()

    return page


@pytest.fixture
def in_german(told, settings, tmp_path) -> polib.POFile:
    """The German of the guide, compiled beside the German of the rest."""
    words = polib.pofile(block("po"))
    words.metadata = {"Content-Type": "text/plain; charset=UTF-8"}
    folder = tmp_path / "de" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    words.save_as_mofile(str(folder / "django.mo"))
    settings.LOCALE_PATHS = [str(tmp_path), *settings.LOCALE_PATHS]
    return words


def test_the_api_records_it_and_the_balance_shows_it(told):
    key = key_issue(told.actor, KeyEntry("test")).secret
    moment = (told.now + timedelta(hours=1)).isoformat()
    body = {
        "stage": "press",
        "started_at": moment,
        "ended_at": moment,
        "inputs": [{"lot": told.code("O1.1"), "mass": "1 kg"}],
        "outputs": [{"form": "pellets", "mass": "940 g"}, {"form": "reject", "mass": "45 g"}],
        "losses": [{"account": "volatiles", "mass": "5 g", "how": "weighed"}],
        "checks": [{"key": "plate_c", "value": "240"}],
    }
    answer = Client().post(
        "/api/v1/runs/",
        body,
        content_type="application/json",
        headers={"authorization": f"Bearer {key}", "idempotency-key": "press-1"},
    )
    assert answer.status_code == 201, answer.content
    assert answer.json()["unaccounted_mg"] == 10_000
    lines = stages_balance(told.actor, told.now, told.now + timedelta(days=1))
    (line,) = [one for one in lines if one.stage == "press"]
    assert (line.outputs_mg["waste"], line.stage_yield) == (45_000, 0.94)


def test_its_page_asks_for_what_the_stage_declares_and_shows_its_cautions(told, open_page):
    page = open_page("record/press/")
    assert "Press scrap between hot plates." in page
    assert "Plate temperature" in page
    assert "mains voltage" in page
    assert not Run.objects.filter(stage="press").exists()


def test_the_guide_says_all_german_that_the_catalogue_asks_for(told, in_german):
    known = {one.msgid for one in polib.pofile(str(GERMAN))}
    asked = {word for word in declared_words() if word not in known}
    assert asked == {one.msgid for one in in_german if not one.msgctxt}
    assert [one.msgid for one in in_german if one.msgctxt == "stage"] == [stage("press").title]


def test_its_page_is_german_too(told, in_german, open_page):
    page = open_page("record/press/", "de")
    assert "<h1>Pressen</h1>" in page
    assert "Reste zwischen heißen Platten pressen." in page
    assert "Netzspannung" in page
    assert "Pressen" in open_page("record/", "de")


def test_scrap_in_stock_waits_for_it_on_the_page_of_the_day(told, open_page):
    assert f"/w/{told.actor.slug}/record/press/" in open_page("")


def test_it_is_a_link_of_the_chain_of_yields(told):
    told.tell(PRESSED).tell("R2 extrude R1.1 900g -> filament 855g")
    found = yields(told.actor, told.now - timedelta(days=1), told.now + timedelta(days=1))
    assert "press" in [row.key for row in found.rows]
    assert set(found.chain_stages) == {"press", "extrude"}
    assert found.chain is not None and found.chain.share == pytest.approx(0.94 * 0.95)


def test_it_is_exported_with_what_it_drew_and_gave(told):
    told.tell(PRESSED)
    document = json.loads("".join(epcis_lines(exported(told.actor, ExportWanted()))))
    events = document["epcisBody"]["eventList"]
    pressed = [one for one in events if one.get("book:stage") == "press"]
    given = [one["quantity"] for event in pressed for one in event.get("outputQuantityList", ())]
    assert sorted(given) == [0.045, 0.94]


def test_its_figures_are_put_right(told):
    told.tell(PRESSED)
    assert told.border("unaccounted") == 10_000
    told.tell("correct R1 draw O1.1 1100g")
    assert told.border("unaccounted") == 110_000
