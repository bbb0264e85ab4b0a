"""The page of lists: brought, looked through, each bad row named, taken whole and once."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from recycling.models import ImportFile, Lot
from recycling.queries.lists import import_shown
from tests.factories import SourceFactory
from tests.web.recording.conftest import text_of

HEAD = "at,source,form,polymer,colour,mass,count\n"
GOOD = (
    f"{HEAD}2024-05-06T09:30+02:00,Corner shop,,PET,clear,12.4 kg,\n"
    "2024-05-06T09:30+02:00,Corner shop,caps,HDPE,,200 g,90\n"
    "\n"
    "2024-05-07T09:30+02:00,Corner shop,,PET,,1.25 kg,\n"
)
BAD = (
    f"{HEAD}2024-05-06T09:30+02:00,Corner shop,bricks,PET,clear,12.4 kg,\n"
    "2024-05-06T09:30+02:00,Corner shop,,PET,,12.4 stone,\n"
    "2024-05-07T09:30+02:00,Corner shop,,PET,,1.25 kg,\n"
)


@pytest.fixture
def hand(lead):
    SourceFactory(actor=lead.actor, name="Corner shop")
    return lead


def bring(hand, text: str | bytes, name: str = "monday.csv"):
    data = text.encode() if isinstance(text, str) else text
    sent = {"file": SimpleUploadedFile(name, data, "text/csv")}
    return hand.client.post(hand.url("imports/"), sent)


def brought(hand, text: str | bytes, django_capture_on_commit_callbacks) -> str:
    with django_capture_on_commit_callbacks(execute=True):
        answer = bring(hand, text)
    assert answer.status_code == 302, text_of(answer)
    return answer.url.partition(hand.url(""))[2]


def lots(hand) -> int:
    return Lot.objects.filter(workshop_id=hand.actor.workshop_id).count()


def test_a_list_is_seen_before_it_is_taken_and_taken_once(hand, django_capture_on_commit_callbacks):
    before = lots(hand)
    path = brought(hand, GOOD, django_capture_on_commit_callbacks)
    said = text_of(hand.open(path))
    assert "Taking it records 3 bags from Corner shop, 13.850 kg net." in said.replace("\xa0", " ")
    for cell in ("What would be recorded", "HDPE", "12.400", "0.200", "1.250", "Take all of it"):
        assert cell in said
    assert lots(hand) == before
    for _ in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            assert hand.client.post(hand.url(f"{path}take/")).status_code == 302
    assert lots(hand) == before + 3
    page = hand.open(path)
    codes = {lot.code for lot in import_shown(hand.actor, 1).lots}
    assert len(codes) == 3 and all(code in page.content.decode() for code in codes)
    assert "came into the book" in text_of(page)
    assert brought(hand, GOOD, django_capture_on_commit_callbacks) == path
    assert lots(hand) == before + 3
    assert hand.client.post(hand.url(f"{path}drop/")).status_code == 302
    assert ImportFile.objects.count() == 1, "what was taken is not dropped"


def test_each_bad_row_is_named_with_its_column_and_nothing_can_be_taken(
    hand, django_capture_on_commit_callbacks
):
    before = lots(hand)
    path = brought(hand, BAD, django_capture_on_commit_callbacks)
    page = hand.open(path)
    rows = page.context["problems"]
    assert [(one.row, one.pointer) for one, _says in rows] == [(2, "form"), (3, "mass")]
    said = text_of(page)
    assert "Nothing of it is recorded" in said and "Take all of it" not in said
    assert "There is no form" in said and "is not a mass" in said
    hand.client.post(hand.url(f"{path}take/"))
    assert lots(hand) == before
    hand.client.post(hand.url(f"{path}drop/"))
    assert not ImportFile.objects.exists() and hand.open(path).status_code == 404


def test_a_row_with_one_thing_wrong_does_not_hide_another(hand, django_capture_on_commit_callbacks):
    """Nor does a bad bag hide what is wrong with the rest of its collection."""
    rows = (
        "some day,Corner shop,bricks,PET,,lots,x",
        "2024-05-07T09:30Z,Corner shop,bricks,PET,,1 kg,",
        "2024-05-07T09:30Z,Corner shop,,PET,,1 kg,,,9",
        "2024-05-07T09:30Z,Corner shop,,PET,,0 kg,",
        "2624-05-07T09:30Z,Corner shop,,PET,,1 kg,",
    )
    path = brought(hand, HEAD + "\n".join(rows), django_capture_on_commit_callbacks)
    named = [(one.row, one.pointer) for one, _says in hand.open(path).context["problems"]]
    assert sorted(named) == [
        *((2, column) for column in ("at", "count", "form", "mass")),
        *((3, "form"), (4, ""), (5, "mass"), (6, "at")),
    ]


def test_what_stands_against_it_is_said_in_the_language_of_the_page(
    hand, django_capture_on_commit_callbacks
):
    path = brought(hand, BAD, django_capture_on_commit_callbacks)
    hand.client.cookies["django_language"] = "de"
    detail = {one.row: says for one, says in hand.open(path).context["problems"]}
    assert "12.4 stone" in detail[3] and "is not a mass" not in detail[3]


@pytest.mark.parametrize("data", [b"", b"at,polymer\x00", b"\x89PNG\r\n\x1a\n\x00\x00"])
def test_what_is_no_text_is_refused_at_its_field(hand, data):
    answer = bring(hand, data)
    assert answer.status_code == 422 and answer.context["form"].errors["file"]
    assert not ImportFile.objects.exists()


def test_a_file_beyond_the_limit_is_refused(hand):
    answer = bring(hand, b"a" * (10 * 2**20 + 1))
    assert answer.status_code == 422 and "10 MiB" in text_of(answer)


@pytest.mark.parametrize("name", ["template", "purchases", "opening"])
def test_a_list_to_fill_in_has_an_example_that_is_no_bag(
    hand, name, django_capture_on_commit_callbacks
):
    answer = hand.open(f"imports/{name}.csv")
    text = b"".join(answer.streaming_content).decode()
    example = text.splitlines()[1].replace("Example: delete this row", "mine")
    path = brought(hand, f"{text}{example}\n", django_capture_on_commit_callbacks)
    shown = import_shown(hand.actor, 1)
    assert (shown.state, shown.counts.new) == ("looked", 1), shown
    assert [(one.row, one.why) for one in shown.skipped] == [(2, "example")]
    assert "the example" in text_of(hand.open(f"{path}?fate=left"))


ASKED = "Datum;Spender;Kunststoff;Gewicht\n05/09/2023;Corner shop;PET;1,76\n"


def test_what_is_asked_is_answered_on_the_page(hand, django_capture_on_commit_callbacks):
    path = brought(hand, ASKED, django_capture_on_commit_callbacks)
    page = hand.open(path)
    said = text_of(page)
    assert "Which is it?" in said and "The day stands first" in said and "Take all" not in said
    for answers in ({}, {"answer:unit": "stone"}):
        refused = hand.client.post(hand.url(f"{path}answers/"), answers, follow=True)
        assert "Which is it?" in text_of(refused)
    with django_capture_on_commit_callbacks(execute=True):
        hand.client.post(hand.url(f"{path}answers/"), {"answer:unit": "kg", "answer:date": "dmy"})
    said = text_of(hand.open(path))
    assert "Taking it records 1 bag from Corner shop, 1.760 kg net." in said.replace("\xa0", " ")
    assert "net mass" in said and "How the columns are read" in said


def test_a_list_that_was_taken_is_undone_on_its_page(hand, django_capture_on_commit_callbacks):
    path = brought(hand, GOOD, django_capture_on_commit_callbacks)
    with django_capture_on_commit_callbacks(execute=True):
        hand.client.post(hand.url(f"{path}take/"))
    assert "Undo all of it" in text_of(hand.open(path))
    with django_capture_on_commit_callbacks(execute=True):
        hand.client.post(hand.url(f"{path}undo/"))
    assert "was taken back" in text_of(hand.open(path))
    lot = Lot.objects.filter(workshop_id=hand.actor.workshop_id).latest("pk")
    assert lot.made_by.state == "void"


def test_a_page_that_waits_asks_and_one_that_is_done_is_loaded_anew(
    hand, django_capture_on_commit_callbacks
):
    path = brought(hand, GOOD, django_capture_on_commit_callbacks)
    assert hand.open(f"{path}progress/")["HX-Refresh"] == "true"
    ImportFile.objects.update(state=ImportFile.LOOKING)
    assert b"hx-get" in hand.open(f"{path}progress/").content
    said = text_of(hand.open(path))
    assert "Being looked through" in said and "Take all of it" not in said


def test_only_those_who_may_record_bring_take_or_drop(
    hand, viewer, django_capture_on_commit_callbacks
):
    path = brought(hand, GOOD, django_capture_on_commit_callbacks)
    assert viewer.open("imports/").status_code == viewer.open(path).status_code == 200
    assert "Take all of it" not in text_of(viewer.open(path))
    assert bring(viewer, BAD).status_code == 403
    for deed in ("take", "drop"):
        assert viewer.client.post(viewer.url(f"{path}{deed}/")).status_code == 403
    assert ImportFile.objects.get().state == ImportFile.LOOKED


def test_another_workshops_list_is_not_there(hand, django_capture_on_commit_callbacks):
    path = brought(hand, GOOD, django_capture_on_commit_callbacks)
    ImportFile.objects.update(number=77)
    assert hand.open(path).status_code == 404
    assert hand.client.post(hand.url(f"{path}take/")).status_code == 404
