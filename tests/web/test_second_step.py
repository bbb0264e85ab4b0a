"""A second step at sign-in: set up, asked for, used once, got back, never got around."""

from __future__ import annotations

import base64
import re
from datetime import timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
import time_machine
from django.core import management
from django.test import Client
from django.utils import timezone

from recycling.calc.people import counted_code, step_of
from recycling.models import Attempt, ChangeEvent, RecoveryCode, SecondStep, User
from recycling.queries.people.second_step import app_address
from recycling.records.people import MemberEntry
from recycling.services.people.members import password_link, second_step_remove
from recycling.services.people.workshops import member_add
from shared.errors import Refused
from tests.factories import PASSWORD, MemberFactory, WorkshopFactory

pytestmark = pytest.mark.django_db
PAGE = "/w/quay/account/second-step/"


@pytest.fixture
def clock():
    with time_machine.travel(timezone.now().replace(second=1), tick=False) as clock:
        yield clock


@pytest.fixture
def quay(clock, db):
    lead = WorkshopFactory(slug="quay", name="Quay workshop", username="ada")
    MemberFactory(actor=lead, username="bo", name="Bo", role="lead")
    return lead


def typed_password(client: Client, name: str = "ada", password: str = PASSWORD, **more: str):
    return client.post("/sign-in/", {"username": name, "password": password, **more})


def typed_code(client: Client, code: str):
    return client.post("/sign-in/code/", {"one_time": code})


def goes_in(client: Client) -> bool:
    return client.get("/w/quay/").status_code == 200


def app_code(secret: bytes) -> str:
    """Say what the app on the phone shows now."""
    return counted_code(secret, step_of(timezone.now().timestamp()))


class Phone:
    """A person's session, the secret in their app, and their recovery codes."""

    def __init__(self, name: str) -> None:
        self.client = Client()
        typed_password(self.client, name)
        self.client.post(PAGE, {"password": PASSWORD, "deed": "begin"})
        self.shown = self.client.get(PAGE).content.decode()
        text = re.search(r'<p class="secret">([A-Z2-7 ]+)</p>', self.shown)[1].replace(" ", "")
        self.secret = base64.b32decode(text)
        self.answer = self.client.post(PAGE, {"one_time": self.code, "deed": "confirm"})
        self.recovery = re.findall(r'class="secret">([0-9 ]{14})<', self.answer.content.decode())

    @property
    def code(self) -> str:
        return app_code(self.secret)


@pytest.fixture
def ada(quay, clock) -> Phone:
    phone = Phone("ada")
    clock.shift(timedelta(seconds=30))
    return phone


def test_the_password_alone_signs_nobody_in(ada):
    client = Client()
    answer = typed_password(client, next="/w/quay/stock/")
    assert (answer.status_code, answer.url) == (302, "/sign-in/code/")
    assert not goes_in(client) and client.get("/api/v1/lots/").status_code in (401, 403)
    asked = client.get("/sign-in/code/").content.decode()
    assert 'autocomplete="one-time-code"' in asked and "Now the code" in asked
    before = client.cookies["sessionid"].value
    answer = typed_code(client, f"{ada.code[:3]} {ada.code[3:]}")
    assert (answer.status_code, answer.url) == (302, "/w/quay/stock/")
    assert goes_in(client) and client.cookies["sessionid"].value != before


def test_a_code_is_taken_once(ada):
    here, there = Client(), Client()
    for client in (here, there):
        typed_password(client)
    code = ada.code
    assert typed_code(here, code).status_code == 302
    answer = typed_code(there, code)
    assert answer.status_code == 422 and "used already" in answer.content.decode()
    assert not goes_in(there)


def test_a_code_of_before_the_one_used_is_not_taken(ada, clock):
    before, client = ada.code, Client()
    clock.shift(timedelta(seconds=30))
    typed_password(client)
    assert typed_code(client, ada.code).status_code == 302
    typed_password(again := Client())
    assert typed_code(again, before).status_code == 422


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("", "required"),
        ("12345", "six digits"),
        ("abcdef", "six digits"),
        ("١٢٣٤٥٦", "six digits"),
        ("0123 4567 8901", "not right"),
        ("wrong", "six digits"),
    ],
)
def test_what_is_no_code_is_said(ada, code, said):
    typed_password(client := Client())
    answer = typed_code(client, code)
    assert answer.status_code == 422 and said in answer.content.decode()
    assert not goes_in(client)


def wrong(phone: Phone) -> str:
    now = step_of(timezone.now().timestamp())
    near = {counted_code(phone.secret, now + step) for step in (-1, 0, 1)}
    return next(code for code in ("000000", "111111", "222222", "333333") if code not in near)


def test_ten_wrong_codes_within_the_hour_and_none_is_looked_at(ada):
    typed_password(client := Client())
    codes = [typed_code(client, wrong(ada)).status_code for _ in range(11)]
    assert codes == [422] * 10 + [429]
    typed_password(elsewhere := Client())
    answer = typed_code(elsewhere, ada.code)
    assert answer.status_code == 429 and "somebody knows your password" in answer.content.decode()
    assert not goes_in(elsewhere) and goes_in(ada.client), "who is in stays in"
    assert ChangeEvent.objects.filter(deed="wrong code", actor=None).count() == 10
    Attempt.objects.all().delete()  # as an hour later
    assert typed_code(elsewhere, ada.code).status_code == 302


def test_a_right_code_forgets_the_wrong_ones(ada, clock):
    for _day in range(3):
        typed_password(client := Client())
        codes = [typed_code(client, wrong(ada)).status_code for _ in range(6)]
        assert codes == [422] * 6 and typed_code(client, ada.code).status_code == 302
        clock.shift(timedelta(seconds=30))


def test_each_recovery_code_signs_in_once(ada):
    assert len(set(ada.recovery)) == 10
    typed_password(client := Client())
    said = client.post("/sign-in/code/", {"one_time": ada.recovery[3]}, follow=True)
    assert "9 are left" in said.content.decode() and goes_in(client)
    typed_password(again := Client())
    answer = typed_code(again, ada.recovery[3])
    assert answer.status_code == 422 and "Take another" in answer.content.decode()
    assert typed_code(again, ada.recovery[4].replace(" ", "-")).status_code == 302
    assert ChangeEvent.objects.filter(deed="recovery code used").count() == 2


def test_the_secret_is_shown_until_it_is_confirmed_and_kept_nowhere(ada):
    """The database holds a seed, and hashes of recovery codes."""
    text = base64.b32encode(ada.secret).decode()
    assert f"{text[:4]} {text[4:8]}" in ada.shown and 'class="square"><svg' in ada.shown
    later = ada.client.get(PAGE).content.decode()
    assert f"{text[:4]} {text[4:8]}" not in later and 'class="square"' not in later
    assert ada.client.get(PAGE)["Cache-Control"].count("no-store") == 1
    row = SecondStep.objects.get(user__username="ada")
    kept = [row.seed, *RecoveryCode.objects.values_list("digest", flat=True)]
    assert text not in "".join(kept) and ada.secret.hex() not in "".join(kept)
    plain = ada.recovery[0].replace(" ", "")
    assert all(plain not in one for one in kept)
    assert ada.answer["Cache-Control"].count("no-store") == 1


def test_the_address_in_the_square_is_one_that_apps_read(quay):
    """The otpauth URI: type, label, and a secret in base 32 without padding."""
    found = urlsplit(app_address("a seed", "ada of the quay"))
    assert (found.scheme, found.netloc) == ("otpauth", "totp")
    assert found.path == "/Regrind%20Ledger:ada%20of%20the%20quay"
    given = parse_qs(found.query)
    assert re.fullmatch("[A-Z2-7]{32}", given["secret"][0]) and given["issuer"] == [
        "Regrind Ledger"
    ]


def test_it_is_off_until_a_code_confirms_it(quay):
    typed_password(client := Client())
    assert client.post(PAGE, {"password": "wrong", "deed": "begin"}).status_code == 422
    assert "secret" not in client.get(PAGE).content.decode()
    client.post(PAGE, {"password": PASSWORD, "deed": "begin"})
    assert client.post(PAGE, {"one_time": "000 0000", "deed": "confirm"}).status_code == 422
    assert not SecondStep.objects.exists()
    assert typed_password(Client()).url == "/"
    assert client.post(PAGE, {"deed": "leave"}).url == "/w/quay/account/"
    assert 'class="secret"' not in client.get(PAGE).content.decode()


def test_a_secret_that_lay_open_is_not_shown_again(quay, clock):
    typed_password(client := Client())
    client.post(PAGE, {"password": PASSWORD, "deed": "begin"})
    assert 'class="secret"' in client.get(PAGE).content.decode()
    clock.shift(timedelta(minutes=21))
    assert 'class="secret"' not in client.get(PAGE).content.decode()


def test_other_sessions_end_when_it_is_turned_on(quay):
    typed_password(before := Client())
    assert goes_in(before)
    phone = Phone("ada")
    assert not goes_in(before) and goes_in(phone.client)


def test_turning_it_off_asks_password_and_code(ada, clock):
    def off(password: str, code: str):
        return ada.client.post(PAGE, {"password": password, "one_time": code, "deed": "off"})

    assert off("wrong", ada.code).status_code == 422
    assert off(PASSWORD, wrong(ada)).status_code == 422
    assert off(PASSWORD, "").status_code == 422 and SecondStep.objects.exists()
    assert off(PASSWORD, ada.code).url == "/w/quay/account/"
    assert not SecondStep.objects.exists() and not RecoveryCode.objects.exists()
    assert typed_password(Client()).url == "/"
    deeds = [*ChangeEvent.objects.values_list("deed", flat=True)]
    assert "second step on" in deeds and "second step off" in deeds


def test_new_recovery_codes_replace_those_before(ada):
    given = {"password": PASSWORD, "one_time": ada.code, "deed": "renew"}
    page = ada.client.post(PAGE, given).content.decode()
    fresh = re.findall(r'class="secret">([0-9 ]{14})<', page)
    assert len(fresh) == 10 and not {*fresh} & {*ada.recovery}
    typed_password(client := Client())
    assert typed_code(client, ada.recovery[0]).status_code == 422
    assert typed_code(client, fresh[0]).status_code == 302


def test_a_password_changed_or_set_by_a_link_gets_nobody_around_it(ada, quay):
    cy = MemberFactory(actor=quay, username="cy", name="Cy", role="lead")
    token, new = password_link(cy, quay.member_id), "green-heron-waits-77"
    Client().post(f"/password/{token}/", {"password": new, "again": new})
    assert typed_password(client := Client(), password=new).url == "/sign-in/code/"
    assert not goes_in(client)


def test_a_password_changed_meanwhile_ends_the_wait_for_the_code(ada):
    typed_password(client := Client())
    user = User.objects.get(username="ada")
    user.set_password("green-heron-waits-77")
    user.save()
    assert typed_code(client, ada.code).url == "/sign-in/" and not goes_in(client)


def test_the_wait_for_the_code_ends(ada, clock):
    typed_password(client := Client())
    clock.shift(timedelta(minutes=11))
    assert typed_code(client, ada.code).url == "/sign-in/" and not goes_in(client)


def test_nobody_without_a_password_is_asked_for_a_code(ada):
    client = Client()
    assert client.get("/sign-in/code/").url == "/sign-in/"
    assert typed_code(client, ada.code).url == "/sign-in/" and not goes_in(client)


def test_a_lead_removes_it_for_another_and_the_history_says_who(ada, quay):
    bo = Client()
    typed_password(bo, "bo")
    page = f"/w/quay/set-up/members/{quay.member_id}/"
    assert "Remove the second step" in bo.get(page).content.decode()
    bo.post(f"{page}second-step/", {"idempotency_key": "once-1"})
    event = ChangeEvent.objects.get(deed="second step removed")
    assert event.subject == f"member {quay.member_id}" and event.actor != quay.reference
    assert typed_password(Client()).url == "/"
    assert "Remove the second step" not in bo.get(page).content.decode()
    assert bo.post(f"{page}second-step/", {"idempotency_key": "once-2"}).status_code == 404


def refused(code: str):
    return pytest.raises(Refused, match=None, check=lambda one: one.problems[0].code == code)


def test_nobody_removes_their_own_that_way_nor_that_of_who_belongs_elsewhere(ada, quay):
    with refused("second-step-own"):
        second_step_remove(quay, quay.member_id)
    mill = WorkshopFactory(slug="mill", name="Old mill", username="mo")
    member_add(mill, MemberEntry("ada", "Ada of the quay", "viewer"))
    dee = MemberFactory(actor=quay, username="dee", name="Dee", role="lead")
    with refused("member-elsewhere"):
        second_step_remove(dee, quay.member_id)
    assert SecondStep.objects.exists()


def test_who_keeps_the_server_turns_it_off(ada):
    management.call_command("second_step_off", "ada")
    assert typed_password(Client()).url == "/"
    with pytest.raises(management.CommandError):
        management.call_command("second_step_off", "ada")


def test_a_person_without_it_signs_in_as_before(ada):
    assert typed_password(client := Client(), "bo").url == "/" and goes_in(client)
