"""Pages that change, retire and bring back; members; a link to a new password."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from recycling.models import User
from recycling.queries.setup import register as query
from recycling.records.setup.changes import SourceChange
from recycling.services.setup.change import source_change
from tests.web.recording.conftest import form_of, problems_of, text_of

GOOD = "a long new password"


@pytest.fixture
def source(lead) -> int:
    return query.sources(lead.actor)[0].id


def test_a_source_is_changed_from_the_list(lead, source):
    listed = lead.open("set-up/sources/").content.decode()
    assert f'href="/w/quay/set-up/sources/{source}/"' in listed
    form = lead.fill(f"set-up/sources/{source}/")
    assert form["name"] == ["North school"]
    page = lead.recorded(f"set-up/sources/{source}/", name="North High", may_be_named="on")
    assert "Changed." in page
    (one,) = query.sources(lead.actor)
    assert (one.name, one.may_be_named) == ("North High", True)


def test_a_retired_container_is_marked_and_no_tap_any_more(lead):
    (crate,) = query.containers(lead.actor)
    assert "Blue crate" in text_of(lead.open("record/sort/"))
    lead.recorded(f"set-up/containers/{crate.id}/", retired="on")
    assert "Blue crate" not in text_of(lead.open("record/sort/"))
    assert "Blue crate retired" in text_of(lead.open("set-up/containers/"))
    form = lead.fill(f"set-up/containers/{crate.id}/")
    form.pop("retired")
    assert lead.send(f"set-up/containers/{crate.id}/", form).status_code == 302
    assert not query.containers(lead.actor)[0].retired


def test_what_somebody_else_changed_meanwhile_is_not_overwritten(lead, source):
    form = lead.fill(f"set-up/sources/{source}/", name="South school")
    source_change(lead.actor, source, SourceChange(note="gate 2"))
    answer = lead.send(f"set-up/sources/{source}/", form)
    assert answer.status_code == 422
    assert "Somebody changed this meanwhile" in problems_of(answer)
    assert query.source(lead.actor, source).name == "North school"


def test_a_refusal_stands_at_its_field(lead, source):
    answer = lead.send(f"set-up/sources/{source}/", lead.fill(f"set-up/sources/{source}/", name=""))
    assert answer.status_code == 422 and form_of(answer)["note"] == [""]


def test_who_may_not_manage_finds_no_page_to_change(operator, stranger, lead, source):
    (scale,) = query.scales(lead.actor)
    assert operator.open(f"set-up/sources/{source}/").status_code == 200
    assert operator.open(f"set-up/scales/{scale.id}/").status_code == 404
    assert operator.open(f"set-up/members/{lead.actor.member_id}/").status_code == 403
    assert stranger.open(f"set-up/sources/{source}/").status_code == 404


def test_a_member_gets_another_role_and_is_let_go(lead, operator):
    path = f"set-up/members/{operator.actor.member_id}/"
    assert "viewer" in lead.recorded(path, role="viewer")
    assert operator.open("record/").status_code == 403
    form = lead.fill(path)
    form.pop("active")
    assert lead.send(path, form).status_code == 302
    assert operator.open("").status_code == 404
    assert "Bo retired" in text_of(lead.open("set-up/members/"))


def test_a_link_sets_a_new_password_once(lead, operator, caplog):
    caplog.set_level("INFO", "recycling.request")
    path = f"set-up/members/{operator.actor.member_id}/password/"
    answer = lead.send(path, lead.fill(path))
    assert answer.status_code == 200 and answer["Cache-Control"] == "no-store"
    link = re.search(r"http://testserver(/password/[\w-]+/)", answer.content.decode())[1]
    somebody = Client()
    shown = somebody.get(link)
    assert shown.status_code == 200 and "For Bo." in text_of(shown)
    wrong = {"password": GOOD, "again": "another one that is long"}
    assert somebody.post(link, wrong).status_code == 422
    weak = {"password": "1234567890", "again": "1234567890"}
    assert somebody.post(link, weak).status_code == 422
    assert somebody.post(link, {"password": GOOD, "again": GOOD}).status_code == 302
    assert somebody.get(link).status_code == 404
    assert "not good any more" in text_of(somebody.get(link))
    assert operator.open("").status_code == 302, "a session with the old password has ended"
    assert shown["Referrer-Policy"] == "same-origin", "tells no other site; none at all stops forms"
    assert "/password/-/" in caplog.text and link not in caplog.text


def test_somebody_new_without_a_password_comes_in_by_a_link(lead):
    typed = {"name": "Cy", "username": "cy", "role": "operator"}
    page = lead.recorded("set-up/members/", **typed)
    assert not User.objects.get(username="cy").has_usable_password()
    path = re.search(r"set-up/members/\d+/password/", page)[0]
    answer = lead.send(path, lead.fill(path))
    link = re.search(r"http://testserver(/password/[\w-]+/)", answer.content.decode())[1]
    somebody = Client()
    assert somebody.post(link, {"password": GOOD, "again": GOOD}).status_code == 302
    assert User.objects.get(username="cy").check_password(GOOD)


def test_what_was_added_leads_back_and_days_are_written_as_elsewhere(lead):
    days = {"starts_date": "2026-11-01", "ends_date": "2026-12-31"}
    page = lead.recorded("set-up/programmes/", name="Winter grant", **days)
    assert f'href="{lead.url("set-up/")}"><span>Back to the set-up' in page
    assert "1 Nov 2026 – 31 Dec 2026" in text_of(lead.open("set-up/programmes/"))


def test_the_workshop_is_called_otherwise(lead):
    lead.recorded("set-up/workshop/", name="Quay and bench", zone="Europe/Madrid")
    assert "Quay and bench" in text_of(lead.open(""))
