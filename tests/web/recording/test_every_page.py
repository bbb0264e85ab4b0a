"""Every page that records opens, within twelve queries, for those who may, and for no one else."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recycling.queries.lots.lots import lot_page
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.lots.notes import HoldEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.lots.holds import hold_place
from recycling.services.runs.run_open import run_open
from recycling.stages import STAGES
from tests.factories import START
from tests.web.recording.conftest import text_of

WHOLE = [f"record/{stage.key}/" for stage in STAGES]
OPENED = [f"record/{one.key}/open/" for one in STAGES if not one.border and not one.counts]
COMING_IN = ["collections/new/", "purchases/new/", "opening/new/", "record/"]
IN_RUN = [
    "runs/{run}/" + name + "/" for name in ("draw", "output", "loss", "note", "close", "facts")
]
ON_LOT = ["lots/{lot}/" + name + "/" for name in ("hold", "event", "count", "facts")]
LEADS = ["runs/{run}/void/", "holds/{hold}/release/", "postings/{posting}/correct/"]
SET_UP = (
    ["set-up/"]
    + [
        f"set-up/{kind}/"
        for kind in ("sources", "programmes", "machines", "scales", "containers", "polymers")
    ]
    + ["set-up/members/", "set-up/keys/"]
)
RECORDING = WHOLE + OPENED + COMING_IN + IN_RUN + ON_LOT
MOST_QUERIES = 12


@pytest.fixture
def places(lead, bag):
    """A lot, an open run that drew from it, a hold, and a posting."""
    lot = bag()
    run = run_open(lead.actor, RunEntry("sort", START, inputs=(DrawEntry(lot, mass_mg=10**6),)))
    hold = hold_place(lead.actor, HoldEntry(bag(), "wet")).holds[0]
    posting = lot_page(lead.actor, lot).postings[0].posting
    return {"lot": lot, "run": run.code, "hold": hold, "posting": posting}


@pytest.mark.parametrize("path", [*RECORDING, *LEADS, *SET_UP, "imports/"])
def test_a_page_opens_for_a_lead(lead, places, path):
    lead.open("record/")
    with CaptureQueriesContext(connection) as asked:
        answer = lead.open(path.format(**places))
    assert answer.status_code == 200
    assert len(asked) <= MOST_QUERIES, "\n".join(one["sql"][:150] for one in asked)
    page = answer.content.decode()
    assert page.count("<h1") == 1
    assert "style=" not in page and "<style" not in page and "onclick" not in page
    for label in re.findall(r'<label for="([^"]+)"', page):
        assert f'id="{label}"' in page


@pytest.mark.parametrize("path", RECORDING + LEADS)
def test_a_viewer_may_not_record(viewer, places, path):
    assert viewer.open(path.format(**places)).status_code == 403
    assert viewer.send(path.format(**places), {}).status_code == 403


@pytest.mark.parametrize("path", LEADS[:2])
def test_an_operator_may_neither_void_nor_release(operator, places, path):
    assert operator.open(path.format(**places)).status_code == 403
    assert operator.send(path.format(**places), {"reason": "x"}).status_code == 403


@pytest.mark.parametrize("path", IN_RUN + ON_LOT + LEADS)
def test_another_workshops_codes_do_not_exist(stranger, places, path):
    assert stranger.open(path.format(**places)).status_code == 404
    assert stranger.send(path.format(**places), {"reason": "x"}).status_code == 404


@pytest.mark.parametrize("path", RECORDING + SET_UP)
def test_another_workshops_pages_do_not_exist(stranger, places, path):
    assert stranger.client.get("/w/quay/" + path.format(**places)).status_code == 404


def test_who_is_not_signed_in_is_led_to_the_door(client, lead):
    answer = client.get("/w/quay/record/")
    assert answer.status_code == 302 and answer.url.startswith("/sign-in/?next=")


def test_codes_are_read_in_small_letters(lead, places):
    assert lead.open(f"runs/{places['run'].lower()}/draw/").status_code == 200
    assert lead.open(f"lots/{places['lot'].lower().replace('-', '')}/event/").status_code == 200


def test_a_mistyped_code_is_answered_as_such(lead, places):
    letter = "A" if places["lot"][-1] != "A" else "B"
    assert lead.open(f"lots/{places['lot'][:-1]}{letter}/event/").status_code == 404


def test_a_stage_that_is_not_there_is_not_found(lead):
    assert lead.open("record/knit/").status_code == 404
    assert lead.open("record/dispatch/open/").status_code == 404
    assert lead.open("set-up/dogs/").status_code == 404


@pytest.mark.parametrize("stage", [one for one in STAGES if one.cautions and not one.border])
def test_cautions_stand_before_the_work(lead, stage):
    from recycling.stages.cautions import CAUTIONS

    words = text_of(lead.open(f"record/{stage.key}/"))
    for name in stage.cautions:
        assert CAUTIONS[name] in words
    assert words.index(CAUTIONS[stage.cautions[0]]) < words.index("Who worked")


def test_a_viewer_sees_the_lists_of_the_set_up_but_adds_nothing(viewer):
    answer = viewer.open("set-up/sources/")
    assert "North school" in text_of(answer) and "Add the source" not in text_of(answer)
    sent = {"name": "X", "kind": "school", "idempotency_key": "k"}
    assert viewer.send("set-up/sources/", sent).status_code == 403
