"""No form takes what nobody can see, none breaks at what people type, and nothing typed is lost."""

from __future__ import annotations

from html import unescape
from itertools import cycle

import pytest

from recycling.models import Polymer, Source
from recycling.queries.lists import import_shown
from recycling.services.lists import import_bring
from tests.nasty import KEPT, REFUSED
from tests.web.recording.conftest import problems_of, text_of
from tests.web.recording.test_every_page import LEADS, RECORDING, SET_UP, places  # noqa: F401

PAGES = [*RECORDING, *LEADS, *SET_UP[1:], "reports/new/", "weighing/samples/new/", "discarded/"]
KEPT_ASIDE = ("csrfmiddlewaretoken", "idempotency_key", "seen")


@pytest.mark.slow
@pytest.mark.parametrize("texts", [REFUSED, KEPT], ids=["refused", "kept"])
def test_every_form_is_answered_in_words(lead, places, texts):  # noqa: F811
    said, sent = cycle(texts.values()), 0
    for path in PAGES:
        opened = lead.open(path.format(**places))
        if opened.status_code != 200:
            assert opened.status_code < 500, path
            continue
        form = lead.fill(path.format(**places))
        fields = [name for name in form if name not in KEPT_ASIDE and not name.endswith("-rows")]
        for name in fields:
            form[name] = [next(said)]
        answer = lead.send(path.format(**places), form)
        assert answer.status_code < 500, path
        if fields and texts is REFUSED:
            assert answer.status_code != 302, (path, fields)
        sent += len(fields)
    assert sent > 150


@pytest.mark.parametrize("name", REFUSED)
def test_a_field_says_which_sign_it_cannot_keep_and_keeps_what_was_typed(lead, name):
    typed = {"name": REFUSED[name], "note": "Ring the bell."}
    answer = lead.send("set-up/sources/", lead.fill("set-up/sources/", **typed))
    assert answer.status_code == 422
    said = problems_of(answer)
    assert f"U+{ord(REFUSED[name][1]):04X}" in said or "Null" in said, said
    assert "Ring the bell." in text_of(answer)
    assert not Source.objects.filter(note="Ring the bell.").exists()


@pytest.mark.parametrize("name", KEPT)
def test_what_people_type_is_kept_and_shown(lead, name):
    text = KEPT[name][:80].strip()
    said = lead.recorded("set-up/sources/", name=text, kind="school", note="x")
    assert Source.objects.filter(name=text).exists()
    assert text in unescape(said) or text in unescape(lead.open("set-up/sources/").content.decode())


@pytest.mark.parametrize("name", ["null", "bell", "next line", "noncharacter", "override"])
@pytest.mark.parametrize(
    "path", ["stock/", "runs/", "collections/", "find/", "labels/", "balance/"]
)
def test_an_address_with_a_sign_that_nobody_can_see_is_answered_in_words(lead, path, name):
    for field in ("text", "code", "lots", "polymer", "from", REFUSED[name]):
        answer = lead.client.get(lead.url(path), {field: REFUSED[name]})
        assert answer.status_code == 400
        assert "a sign that nobody can see" in text_of(answer)


def test_a_cookie_with_a_sign_that_nobody_can_see_is_none(client, db):
    client.cookies["sessionid"] = "abcdefgh\x00ijkl"
    assert client.get("/sign-in/").status_code == 200


def test_a_code_of_a_polymer_is_letters_digits_and_hyphens(lead):
    answer = lead.send("set-up/polymers/", lead.fill("set-up/polymers/", code="PE weiß"))
    assert answer.status_code == 422
    assert "letters, digits and hyphens" in problems_of(answer)
    assert not Polymer.objects.filter(code="PE weiß").exists()


@pytest.mark.parametrize("name", ["C1", "noncharacter", "override", "delete"])
def test_a_list_names_the_row_and_column_of_what_it_cannot_keep(
    lead, name, django_capture_on_commit_callbacks
):
    text = f"at,source,polymer,mass,note\n2026-05-04 09:30,North school,PET,4 kg,{REFUSED[name]}\n"
    with django_capture_on_commit_callbacks(execute=True):
        number = import_bring(lead.actor, "list.csv", text.encode())
    (problem,) = import_shown(lead.actor, number).problems
    assert (problem.row, problem.pointer) == (2, "note")
    page = text_of(lead.open(f"imports/{number}/"))
    assert f"U+{ord(REFUSED[name][1]):04X}" in page
