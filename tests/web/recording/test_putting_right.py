"""A correction that flows on, a void with what followed, and Undo, by hand."""

from __future__ import annotations

import re
from html import unescape

from recycling.ledger.models import Posting
from recycling.models import FigureDoubt, Lot, Run
from recycling.queries.balance.doubts import doubts_waiting
from recycling.records.runs.entries import CorrectionEntry
from recycling.services.runs.corrections import posting_correct
from tests.factories import KG, G
from tests.histories import tell
from tests.web.recording.conftest import form_of, text_of

BOOK = "C1: bottles PET 5kg\nR1 sort C1.1 all -> clean bottles 4kg\nR2 shred R1.1 1kg -> flake 900g"


def test_a_correction_that_flows_is_looked_over_first(lead):
    told = tell(BOOK, lead.actor)
    path = f"postings/{told.posting('C1.run', 'C1.1')}/correct/"
    form = lead.fill(path, mass="4500 g", reason="tare")
    assert form["flow"] == ["on"]
    review = lead.send(path, form)
    words = text_of(review)
    assert review.status_code == 200 and "Nothing is recorded yet" in words
    assert f"drawn {told.code('C1.1')} bottles Sort {told.code('R1')} 5.000000 4.500000" in words
    assert not Posting.objects.filter(corrects__isnull=False).exists()
    answer = lead.send(path, form_of(review), step="record")
    assert answer.status_code == 302
    assert told.run("R1").draws.get().mass_mg == 4_500_000
    saved = lead.client.get(answer.url)
    undo = f"/w/quay/postings/{told.posting('C1.run', 'C1.1')}/undo/"
    assert f'action="{undo}"' in saved.content.decode()
    assert lead.client.post(undo, {"idempotency_key": "u1"}).status_code == 302
    assert told.run("R1").draws.get().mass_mg == 5 * KG


def test_without_what_follows_it_is_refused_at_the_field_and_nothing_is_lost(lead):
    told = tell(BOOK, lead.actor)
    path = f"postings/{told.posting('C1.run', 'C1.1')}/correct/"
    form = lead.fill(path, mass="4500 g", reason="tare")
    form.pop("flow")
    answer = lead.send(path, form)
    assert answer.status_code == 422 and form_of(answer)["mass"] == ["4500 g"]


def test_a_run_is_voided_with_what_followed_after_a_look(lead):
    told = tell(BOOK, lead.actor)
    path = f"runs/{told.code('R1')}/void/"
    form = lead.fill(path, with_descendants="on", reason="never was")
    review = lead.send(path, form)
    words = text_of(review)
    assert "Runs that become void" in words and told.code("R2") in words
    assert lead.send(path, form_of(review), step="record").status_code == 302
    assert Run.objects.filter(state=Run.VOID).count() == 2
    assert Lot.objects.get(code=told.code("C1.1")).account.balance_mg == 5 * KG


def test_the_last_bag_is_undone_with_one_press(lead, operator):
    page = lead.recorded("collections/new/", source="North school", **_bag())
    run = Run.objects.get()
    undo = f"/w/quay/runs/{run.code}/undo/"
    assert f'action="{undo}"' in page
    strange = operator.client.post(undo, {"idempotency_key": "x"})
    assert strange.status_code == 422 and "Somebody else recorded this" in text_of(strange)
    assert lead.client.post(undo, {"idempotency_key": "y"}).status_code == 302
    run.refresh_from_db()
    assert run.state == Run.VOID


def test_the_last_draw_of_an_open_run_is_undone_with_one_press(lead, bag):
    lot = bag()
    lead.recorded("record/sort/open/", started_at="2024-03-01T09:00")
    code = Run.objects.get(state=Run.OPEN).code
    page = lead.recorded(f"runs/{code}/draw/", inputs__0__code=lot, inputs__0__mass="2 kg")
    (undo,) = re.findall(rf'action="(/w/quay/runs/{code}/undo/[^"]+)"', page)
    assert lead.client.post(unescape(undo), {"idempotency_key": "z"}).status_code == 302
    assert Lot.objects.get(code=lot).account.balance_mg == 5 * KG
    again = lead.client.post(unescape(undo), {"idempotency_key": "z2"})
    assert again.status_code == 422 and "nothing here to undo" in text_of(again)


def _bag() -> dict[str, str]:
    return {"bags__0__form": "bottles", "bags__0__polymer": "PET", "bags__0__net": "4 kg"}


def test_a_figure_that_nobody_answered_waits_under_what_is_to_look_at(lead, bag):
    for mass in (1_100, 1_200, 1_300, 1_150, 1_240, 1_400, 1_320, 1_200):
        bag("caps", mass * G)
    for _ in range(2):
        bag("caps", 12_400 * G)
    page = lead.open("closures/").content.decode()
    assert page.count("are usual; 12.400 kg is far from that") == 2
    url, *_ = re.findall(r'href="[^"]*/(postings/\d+/correct/\?likely=1240000)"', page)
    assert form_of(lead.open(url))["mass"] == ["1240 g"]
    number = FigureDoubt.objects.order_by("pk").last().pk
    answer = lead.client.post(lead.url(f"doubts/{number}/right/"), {"idempotency_key": "d"})
    assert "Kept as right" in text_of(lead.client.get(answer.url))
    assert lead.open("closures/").content.decode().count("are usual") == 1
    correct = CorrectionEntry(doubts_waiting(lead.actor)[0].posting, 1_240 * G, "a slip")
    posting_correct(lead.actor, correct)
    assert "are usual" not in lead.open("closures/").content.decode()
