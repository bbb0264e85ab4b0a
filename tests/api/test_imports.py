"""Files of entries through the API: looked through, each bad row named, taken whole and once."""

from __future__ import annotations

import io
import json
from base64 import b64encode
from datetime import datetime

import openpyxl
import pytest

from recycling.ledger.models import Entry
from recycling.models import ChangeEvent, ImportFile, Job, Lot, Member, Origin, Source
from recycling.queries.integrity.audit import audit
from recycling.tasks import import_look, import_take_back, import_write
from recycling.tasks.lists import rows
from recycling.tasks.lists import take as tasks
from tests.factories import SourceFactory

pytestmark = pytest.mark.django_db
HEAD = "at,source,form,polymer,colour,mass,count\n"
GOOD = (
    f"{HEAD}2024-05-06T09:30+02:00,Corner shop,,PET,clear,12.4 kg,\n"
    "2024-05-06T09:30+02:00,Corner shop,caps,HDPE,,200 g,90\n"
    "\n"
    "2024-05-07T09:30+02:00,Corner shop,,PET,,1.25 kg,\n"
)


@pytest.fixture
def shop(shop):
    SourceFactory(actor=shop.lead, name="Corner shop")
    return shop


def work() -> None:
    job = Job.objects.filter(finished_at=None).latest("pk")
    {tasks.LOOK: import_look, tasks.TAKE: import_write, tasks.UNDO: import_take_back}[job.task](
        job.pk
    )


def brought(shop, text: str, name: str = "monday.csv") -> dict:
    asked = shop.api.post("/imports/", {"name": name, "text": text}, status=202)
    assert (asked["state"], asked["problems"]) == ("looking", [])
    work()
    return shop.api.read(f"/imports/{asked['number']}/")


def recorded(shop) -> tuple[int, int]:
    own = {"workshop_id": shop.lead.workshop_id}
    return Lot.objects.filter(**own).count(), Entry.objects.filter(
        book_id=own["workshop_id"]
    ).count()


def test_a_file_is_looked_through_then_taken_as_a_whole(shop, other_shop):
    before = recorded(shop)
    looked = brought(shop, GOOD)
    assert (looked["state"], looked["entries"], looked["problems"]) == ("looked", 2, [])
    assert [lot["name"] for lot in looked["lots"]] == ["row 2", "row 3", "row 5"]
    assert recorded(shop) == before, "it was only looked through"
    number = looked["number"]
    assert shop.api.post(f"/imports/{number}/take/", {}, status=202)["state"] == "taking"
    assert recorded(shop) == before
    work()
    taken = shop.api.read(f"/imports/{number}/")
    assert taken["state"] == "taken" and taken["taken_at"]
    assert recorded(shop) == (before[0] + 3, before[1] + 2)
    codes = [lot["code"] for lot in taken["lots"]]
    masses = [Lot.objects.get(code=c, workshop_id=shop.lead.workshop_id).made_mg for c in codes]
    assert masses == [12_400_000, 200_000, 1_250_000]
    assert audit(shop.lead.workshop_id) == []
    assert ChangeEvent.objects.get(deed="take import").after["digest"] == taken["digest"]
    other_shop.api.get(f"/imports/{number}/", 404)
    other_shop.api.post(f"/imports/{number}/take/", {}, status=404)


def test_the_same_file_again_is_the_one_that_was_taken(shop):
    number = brought(shop, GOOD)["number"]
    for _ in range(2):
        shop.api.post(f"/imports/{number}/take/", {}, status=202)
    work()
    after = recorded(shop)
    again = shop.api.post("/imports/", {"name": "copy.csv", "text": GOOD}, status=202)
    assert (again["number"], again["state"]) == (number, "taken")
    assert shop.api.post(f"/imports/{number}/take/", {}, status=202)["state"] == "taken"
    assert not Job.objects.filter(finished_at=None).exists() and recorded(shop) == after


BAD = {
    "no such form": ("2024-05-06T09:30+02:00,Corner shop,bricks,PET,,1 kg,", (3, "form")),
    "no mass": ("2024-05-06T09:30+02:00,Corner shop,,PET,,,", (3, "mass")),
    "a mass of zero": ("2024-05-06T09:30+02:00,Corner shop,,PET,,0 kg,", (3, "mass")),
    "a time that is none": ("on Monday,Corner shop,,PET,,1 kg,", (3, "at")),
    "a span of days": ("5.-7.5.2024,Corner shop,,PET,,1 kg,", (3, "at")),
    "two notations": ('2024-05-06T09:30+02:00,Corner shop,,PET,,"1,25 kg",', (3, "mass")),
    "a count of none": ("2024-05-06T09:30+02:00,Corner shop,,PET,,1 kg,x", (3, "count")),
    "a cell too many": ("2024-05-06T09:30+02:00,Corner shop,,PET,,1 kg,5,6", (3, "")),
    "an open quotation mark": ('2024-05-06T09:30+02:00,"Corner shop,,PET,,1 kg,', (3, "")),
}


@pytest.mark.parametrize("name", BAD)
def test_each_bad_row_is_named_and_nothing_can_be_taken(shop, name):
    row, place = BAD[name]
    before, good = recorded(shop), GOOD.splitlines()[1]
    looked = brought(shop, f"{HEAD}{good}\n{row}\n")
    assert looked["state"] == "failed"
    named = {(one["row"], one["pointer"]) for one in looked["problems"]}
    assert place in named and named <= {place, (2, place[1])}, looked["problems"]
    shop.api.post(f"/imports/{looked['number']}/take/", {}, status=409)
    assert recorded(shop) == before


def test_all_bad_rows_are_named_at_once(shop):
    rows = ("Corner shop,,PET,,1 kg,x", "Corner shop,,PET,,lots,", "Corner shop,bricks,PET,,1 kg,")
    text = HEAD + "".join(f"2024-05-0{day}T09:30Z,{row}\n" for day, row in enumerate(rows, 1))
    looked = brought(shop, text)
    named = [(one["row"], one["pointer"]) for one in looked["problems"]]
    assert (looked["state"], named) == ("failed", [(2, "count"), (3, "mass"), (4, "form")])


def test_what_spreadsheets_put_around_it_is_read(shop):
    text = "\ufeff" + GOOD.replace(",", ";").replace("\n", "\r\n")
    looked = brought(shop, text)
    assert (looked["state"], looked["entries"], len(looked["lots"])) == ("looked", 2, 3)


def test_a_header_that_makes_no_sense_is_refused(shop):
    for head in ("x", "1,2,3", "hello,you"):
        looked = brought(shop, f"{head}\n1,2,3,4\n")
        assert looked["state"] == "failed" and {one["row"] for one in looked["problems"]} == {1}
    shop.api.post("/imports/", {"text": "  "}, status=422)


def test_what_changed_since_it_was_looked_through_refuses_all_of_it(shop):
    number = brought(shop, GOOD)["number"]
    shop.api.post(f"/imports/{number}/take/", {}, status=202)
    before = recorded(shop)
    Source.objects.filter(name="Corner shop").update(name="Closed shop")
    work()
    failed = shop.api.read(f"/imports/{number}/")
    assert (failed["state"], len(failed["problems"])) == ("failed", 1)
    assert recorded(shop) == before and not failed["taken_at"]


def test_entries_in_json_may_be_runs_and_depend_on_each_other(shop):
    bag = {"entry": "collection", "at": "2024-05-04T09:30:00Z", "source": "Corner shop", "lot": "a"}
    bag |= {"form": "bottles", "polymer": "PET", "mass_mg": 5_000_000}
    run = {"entry": "run", "stage": "sort", "inputs": [{"lot": "a", "mass_mg": 4_000_000}]}
    run |= {"started_at": "2024-05-04T10:00:00Z", "ended_at": "2024-05-04T11:00:00Z"}
    run |= {"outputs": [{"lot": "b", "form": "clean bottles", "mass_mg": 3_900_000}]}
    looked = brought(shop, json.dumps({"entries": [bag, run]}), "two.json")
    assert (looked["state"], looked["entries"]) == ("looked", 2)
    looked = brought(shop, json.dumps({"entries": [bag | {"source": "Nobody"}, run]}))
    assert [(one["row"], one["code"]) for one in looked["problems"]] == [
        (1, "source-unknown"),
        (2, "lot-refused"),
    ]


@pytest.mark.parametrize("text", ["at,polymer,mass\u0000", "a\u0007b"])
def test_a_text_that_is_none_is_refused_at_once(shop, text):
    shop.api.post("/imports/", {"text": text}, status=422)


def test_whatever_breaks_is_told_and_nothing_is_recorded(shop, monkeypatch):
    before = recorded(shop)
    monkeypatch.setattr(rows, "read_sheets", lambda *_: 1 / 0)
    looked = brought(shop, GOOD)
    assert [one["code"] for one in looked["problems"]] == ["import-broke"]
    assert looked["state"] == "failed" and recorded(shop) == before
    monkeypatch.undo()
    assert brought(shop, GOOD)["state"] == "looked", "it may be sent again"


def test_it_is_recorded_by_whoever_took_it_while_they_belong(shop):
    number = brought(shop, GOOD)["number"]
    shop.api.post(f"/imports/{number}/take/", {}, status=202)
    Member.objects.filter(pk=shop.lead.member_id).update(left_at="2024-01-01T00:00:00Z")
    before = recorded(shop)
    work()
    assert recorded(shop) == before
    assert not Origin.objects.filter(source__name="Corner shop")
    assert not Job.objects.filter(finished_at=None).exists()


def test_a_spreadsheet_is_sent_in_base64(shop):
    book = openpyxl.Workbook()
    for row in (["at", "source", "polymer", "mass"], [datetime(2024, 5, 6, 9, 30), "Corner shop"]):
        book.active.append(row)
    book.active["C2"], book.active["D2"] = "PET", "12.4 kg"
    paper = io.BytesIO()
    book.save(paper)
    said = {"name": "monday.xlsx", "spreadsheet": b64encode(paper.getvalue()).decode()}
    number = shop.api.post("/imports/", said, status=202)["number"]
    work()
    (lot,) = shop.api.read(f"/imports/{number}/")["lots"]
    assert (lot["row"], lot["mass_mg"], lot["giver"]) == (2, 12_400_000, "Corner shop")
    for wrong in ({"spreadsheet": "?"}, {"spreadsheet": "YWJj" * 4 + "\xe9"}, said | {"text": "a"}):
        shop.api.post("/imports/", wrong, status=422)


def test_a_file_that_was_not_taken_is_dropped(shop):
    number = brought(shop, GOOD)["number"]
    assert shop.api.post(f"/imports/{number}/drop/", {}, status=200) == {"number": number}
    shop.api.get(f"/imports/{number}/", 404)
    number = brought(shop, GOOD)["number"]
    shop.api.post(f"/imports/{number}/take/", {}, status=202)
    shop.api.post(f"/imports/{number}/drop/", {}, status=409)


ASKED = (
    "Date,Who gave,Plastic,Weight\n05/09/2023,Corner shop,PET,1.76\n07/10/2023,Corner shp,PET,2.5\n"
)


def test_what_can_be_read_in_several_ways_is_asked_once_and_remembered(shop):
    asked = brought(shop, ASKED)
    number = asked["number"]
    assert asked["state"] == "asked" and not asked["problems"]
    by_about = {one["about"]: one for one in asked["questions"]}
    assert set(by_about) == {"date", "unit", "source"}
    assert (by_about["source"]["row"], by_about["source"]["column"]) == (3, "Who gave")
    assert [one["key"] for one in by_about["date"]["choices"]] == ["dmy", "mdy"]
    shop.api.post(f"/imports/{number}/take/", {}, status=409)
    wrong = shop.api.post(f"/imports/{number}/answers/", {"answers": {"date": "ymd"}}, status=422)
    assert [one["code"] for one in wrong["errors"]] == ["answers-wrong"]
    answers = {"date": "dmy", "unit": "kg", by_about["source"]["key"]: "Corner shop"}
    shop.api.post(f"/imports/{number}/answers/", {"answers": answers}, status=202)
    work()
    looked = shop.api.read(f"/imports/{number}/")
    assert (looked["state"], looked["questions"]) == ("looked", [])
    assert [lot["at"][:10] for lot in looked["lots"]] == ["2023-09-05", "2023-10-07"]
    shop.api.post(f"/imports/{number}/take/", {}, status=202)
    work()
    grown = brought(shop, ASKED + "08/11/2023,Corner shp,PET,3.25\n")
    assert grown["state"] == "looked", grown["questions"]
    assert [one["row"] for one in grown["known"]] == [2, 3]
    assert [(lot["row"], lot["mass_mg"]) for lot in grown["lots"]] == [(4, 3_250_000)]


def test_answers_may_come_with_the_file(shop):
    answers = {"date": "mdy", "unit": "g", "source:corner shp": "+add"}
    asked = shop.api.post("/imports/", {"text": ASKED, "answers": answers}, status=202)
    work()
    looked = shop.api.read(f"/imports/{asked['number']}/")
    assert looked["state"] == "looked" and looked["new_sources"] == ["Corner shp"]
    shop.api.post(f"/imports/{asked['number']}/take/", {}, status=202)
    work()
    assert Source.objects.filter(name="Corner shp").exists()
    assert Lot.objects.get(origin__source__name="Corner shp").made_mg == 2_500


def test_rows_are_read_by_their_fate_page_by_page(shop):
    number = brought(shop, GOOD + "Total,,,,,13.85 kg,\n")["number"]
    page = shop.api.read(f"/imports/{number}/rows/?fate=new&limit=2")
    assert [one["row"] for one in page["rows"]] == [2, 3] and page["next"]
    further = shop.api.read(f"/imports/{number}/rows/?fate=new&limit=2&after={page['next']}")
    assert [one["row"] for one in further["rows"]] == [5] and not further["next"]
    left = shop.api.read(f"/imports/{number}/rows/?fate=left")
    assert [(one["row"], one["why"]) for one in left["rows"]] == [(4, "blank"), (6, "total")]
    shown = shop.api.read(f"/imports/{number}/")
    assert shown["counts"] == {"new": 3, "known": 0, "skipped": 2, "wrong": 0, "recorded": 0}
    assert shown["skipped"] == [{"row": 4, "why": "blank"}, {"row": 6, "why": "total"}]
    shop.api.get(f"/imports/{number}/rows/?fate=lost", 400)


def test_all_that_was_taken_is_undone_at_once_by_whoever_took_it(shop, other_shop):
    before = recorded(shop)
    number = brought(shop, GOOD)["number"]
    shop.api.post(f"/imports/{number}/undo/", {}, status=409)
    shop.api.post(f"/imports/{number}/take/", {}, status=202)
    work()
    assert shop.api.read(f"/imports/{number}/")["undo_until"]
    other_shop.api.post(f"/imports/{number}/undo/", {}, status=404)
    assert shop.api.post(f"/imports/{number}/undo/", {}, status=202)["state"] == "undoing"
    work()
    assert shop.api.read(f"/imports/{number}/")["state"] == "undone"
    lots = Lot.objects.filter(workshop_id=shop.lead.workshop_id, origin__source__name="Corner shop")
    assert {(lot.made_by.state, lot.account.balance_mg) for lot in lots} == {("void", 0)}
    assert audit(shop.lead.workshop_id) == []
    again = brought(shop, GOOD)
    assert (again["number"], again["state"], len(again["lots"])) == (number, "looked", 3)
    assert recorded(shop)[0] == before[0] + 3


def test_later_a_list_is_voided_with_a_reason_and_not_while_something_was_built_on_it(shop):
    number = brought(shop, GOOD)["number"]
    shop.api.post(f"/imports/{number}/take/", {}, status=202)
    work()
    ImportFile.objects.update(taken_at="2024-06-01T00:00:00Z")
    refused = shop.api.post(f"/imports/{number}/undo/", {}, status=422)
    assert [one["code"] for one in refused["errors"]] == ["reason-missing"]
    lot = shop.api.read(f"/imports/{number}/")["lots"][0]["code"]
    run = {"stage": "sort", "started_at": "2024-05-08T09:30Z", "ended_at": "2024-05-08T10:30Z"}
    run |= {"outputs": [{"form": "clean bottles", "mass_mg": 900_000}]}
    code = shop.api.post("/runs/", run | {"inputs": [{"lot": lot, "mass_mg": 900_000}]})["code"]
    drawn = shop.api.post(f"/imports/{number}/undo/", {"reason": "wrong list"}, status=422)
    assert [one["code"] for one in drawn["errors"]] == ["import-drawn-on"]
    shop.api.post(f"/runs/{code}/void/", {"reason": "a trial"}, status=200)
    shop.api.post(f"/imports/{number}/undo/", {"reason": "wrong list"}, status=202)
    work()
    assert shop.api.read(f"/imports/{number}/")["state"] == "undone"


def test_what_came_into_the_book_since_it_was_looked_through_is_not_counted_twice(shop):
    one, other = brought(shop, GOOD)["number"], brought(shop, f"{GOOD}\n")["number"]
    shop.api.post(f"/imports/{one}/take/", {}, status=202)
    work()
    after = recorded(shop)
    shop.api.post(f"/imports/{other}/take/", {}, status=202)
    work()
    failed = shop.api.read(f"/imports/{other}/")
    assert [one["code"] for one in failed["problems"]] == ["import-known-since"]
    assert recorded(shop) == after
    assert brought(shop, f"{GOOD}\n")["counts"]["known"] == 3
