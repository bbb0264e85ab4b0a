"""One's sessions: listed, ended one by one, ended when nobody used them; cookies under TLS."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import timedelta

import pytest
import time_machine
from django.conf import settings as configured
from django.test import Client
from django.utils import timezone

from recycling.models import User, UserSession
from recycling.queries.people.sessions import session_mark
from tests.factories import PASSWORD, MemberFactory, WorkshopFactory

pytestmark = pytest.mark.django_db
AGENT = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"


@pytest.fixture
def quay(db):
    return WorkshopFactory(slug="quay", username="ada")


def signed_in(name: str = "ada", agent: str = AGENT) -> Client:
    client = Client(headers={"user-agent": agent})
    assert client.post("/sign-in/", {"username": name, "password": PASSWORD}).status_code == 302
    return client


def goes_in(client: Client) -> bool:
    return client.get("/w/quay/").status_code == 200


def end(client: Client, which: str):
    return client.post("/w/quay/account/sessions/end/", {"session": which}, follow=True)


def test_ones_own_sessions_are_listed_and_nobody_elses(quay):
    MemberFactory(actor=quay, name="Bo", username="bo")
    here, _there = signed_in(), signed_in(agent="Mozilla/5.0 (Android 15) Chrome/140.0")
    signed_in("bo", "Mozilla/5.0 (iPad) Safari/600")
    page = here.get("/w/quay/account/").content.decode()
    assert "Firefox, Linux" in page and "Chromium, Android" in page and "iPad" not in page
    assert page.count("Sign out there") == 1 and "Sign out everywhere else" not in page


def test_one_session_is_ended_and_the_others_go_on(quay):
    here, there, third = signed_in(), signed_in(), signed_in()
    said = end(here, session_mark(there.session.session_key)).content.decode()
    assert "Signed out there." in said
    assert goes_in(here) and not goes_in(there) and goes_in(third)
    assert "Signed out there." in end(here, "others").content.decode()
    assert goes_in(here) and not goes_in(third)
    assert "It had ended already." in end(here, "others").content.decode()


def test_a_stranger_ends_nobodys_session(quay):
    MemberFactory(actor=quay, name="Bo", username="bo")
    ada, bo = signed_in(), signed_in("bo")
    end(bo, session_mark(ada.session.session_key))
    end(bo, "others")
    assert goes_in(ada)


def test_an_account_that_goes_takes_its_sessions(quay):
    client = signed_in()
    User.objects.get(username="ada").delete()
    assert not UserSession.objects.exclude(user=None).exists() and not goes_in(client)


@pytest.mark.parametrize(("role", "hours"), [("lead", 2), ("operator", 12)])
def test_a_session_that_nobody_used_ends(quay, role, hours):
    """OWASP ASVS 5.0, 7.3.1."""
    MemberFactory(actor=quay, name="Bo", username="bo", role=role)
    with time_machine.travel(timezone.now(), tick=False) as clock:
        client = signed_in("bo")
        for _use in range(3):
            clock.shift(timedelta(hours=hours - 0.5))
            assert goes_in(client), "it was used meanwhile"
        clock.shift(timedelta(hours=hours, minutes=1))
        answer = client.get("/w/quay/stock/")
        assert (answer.status_code, answer.url) == (302, "/sign-in/?next=/w/quay/stock/")


def test_what_a_page_asks_by_itself_is_no_use(quay):
    with time_machine.travel(timezone.now(), tick=False) as clock:
        client = signed_in()
        for _ask in range(5):
            clock.shift(timedelta(minutes=29))
            client.get("/w/quay/", headers={"HX-Request": "true"})
        assert not goes_in(client)


def test_hardly_any_page_notes_its_use(quay):
    client = signed_in()
    goes_in(client)
    before = UserSession.objects.get(session_key=client.session.session_key).session_data
    goes_in(client)
    after = UserSession.objects.get(session_key=client.session.session_key).session_data
    assert before == after


def test_signing_out_clears_what_the_browser_keeps_of_pages(quay):
    client = signed_in()
    assert client.post("/sign-out/", secure=True)["Clear-Site-Data"] == '"cache"'


def test_cookies_under_tls_come_from_this_host_only():
    """RFC 6265bis, 4.1.3.2: such a name is taken from a secure origin, for the path / alone."""
    names = "s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME, COOKIE, s.SECURE_HSTS_SECONDS > 0"
    code = (
        "import django; django.setup(); from django.conf import settings as s;"
        " from recycling.web.people.tablet_session import COOKIE;"
        f" print({names}, getattr(s, 'SECURE_HSTS_PRELOAD', False))"
    )
    said = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | {"TLS": "1", "DJANGO_SETTINGS_MODULE": "recycling.settings"},
        cwd=configured.ROOT,
        capture_output=True,
        text=True,
    )
    names = "__Host-sessionid __Host-csrftoken __Host-shared_tablet"
    assert said.stdout.strip() == f"{names} True False", said.stderr
