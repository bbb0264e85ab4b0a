"""A shared tablet: who is acting by a PIN, what a PIN may, when it locks, and who gets in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.contrib.auth.hashers import check_password, identify_hasher
from django.test import Client

from recycling.models import Attempt, ChangeEvent, Member, MemberPin, Run, SharedTablet
from recycling.services.people.tablets import lock_time_set, pin_set, tablet_add, tablet_revoke
from recycling.settings import PASSWORD_HASHERS
from recycling.web.people.tablet_session import COOKIE
from tests.factories import PASSWORD, MemberFactory, WorkshopFactory
from tests.web.recording.conftest import form_of, text_of
from tests.web.tablets.conftest import PINS, act

NOON = datetime(2026, 3, 2, 12, 5, tzinfo=UTC)


def is_locked(answer) -> bool:
    return answer.status_code == 302 and answer.url.startswith("/w/quay/acting/")


def donation(device: Client, gross: str = "5.5 kg") -> dict[str, list[str]]:
    form = form_of(device.get("/w/quay/collections/new/"))
    form["source"], form["bags-0-gross"] = ["North school"], [gross]
    return form


def test_a_lead_makes_the_device_in_hand_a_tablet_and_is_signed_out_on_it(ada, signed_in):
    device = signed_in(ada)
    answer = device.post(
        "/w/quay/set-up/tablets/", {"label": "Shredder corner", "idempotency_key": "k-1"}
    )
    assert is_locked(answer)
    cookie = answer.cookies[COOKIE]
    assert cookie["httponly"] and cookie["samesite"] == "Lax"
    stored = SharedTablet.objects.get()
    assert cookie.value not in (stored.digest, stored.label) and len(cookie.value) >= 43
    assert is_locked(device.get("/w/quay/"))
    assert device.get("/").url == "/w/quay/acting/"
    listed = signed_in(ada).get("/w/quay/set-up/tablets/")
    assert "Shredder corner" in listed.content.decode()


def test_whoever_types_their_pin_acts_and_the_entry_is_theirs(tablet, bo, ada):
    page = text_of(tablet.get("/w/quay/acting/"))
    assert "Bo" in page and "Ada" in page
    answer = act(tablet, "quay", bo, PINS["Bo"], next="/w/quay/collections/new/")
    assert answer.url == "/w/quay/collections/new/"
    shown = tablet.get("/w/quay/collections/new/").content.decode()
    assert ">Bo<" in shown and ">Lock<" in shown, "the name and the lock are in sight"
    assert tablet.post("/w/quay/collections/new/", donation(tablet)).status_code == 302
    assert [one.pk for one in Run.objects.get().operators.all()] == [bo.member_id]
    act(tablet, "quay", ada, PINS["Ada"])
    assert ">Ada<" in tablet.get("/w/quay/").content.decode()


def test_an_answer_to_the_session_before_does_not_take_away_the_one_that_began(tablet, bo):
    """Pages that a device keeps are fetched in the background while somebody presses the lock."""
    act(tablet, "quay", bo, PINS["Bo"])
    before = tablet.cookies["sessionid"].value
    tablet.post("/w/quay/lock/", {"path": "/w/quay/collections/new/", "bags-0-gross": "5.25 kg"})
    late = Client()
    late.cookies[COOKIE], late.cookies["sessionid"] = tablet.cookies[COOKIE].value, before
    answer = late.get("/w/quay/record/sort/", headers={"X-Kept-Copy": "1"})
    assert is_locked(answer) and "sessionid" not in answer.cookies
    assert "Cookie" in answer["Vary"]
    assert act(tablet, "quay", bo, PINS["Bo"]).url == "/w/quay/acting/go-on/"
    assert "5.25 kg" in text_of(tablet.get("/w/quay/acting/go-on/"))
    assert tablet.post("/w/quay/lock/").cookies["sessionid"].value != before


def test_nobody_is_led_to_another_place_after_the_pin(tablet, bo):
    for place in ("https://example.org/", "//example.org/w/quay/", "/w/mill/", "/sign-out/"):
        assert act(tablet, "quay", bo, PINS["Bo"], next=place).url == "/w/quay/"


def test_a_pin_records_and_never_manages(tablet, ada, bo, vi):
    act(tablet, "quay", ada, PINS["Ada"])
    for path in ("set-up/tablets/", "set-up/tablets/lock-time/", "account/", "account/pin/remove/"):
        assert tablet.get(f"/w/quay/{path}").status_code == 403, path
    made = {"name": "Scale", "interval_mg": "1 g", "capacity_mg": "9 kg", "accuracy_class": "III"}
    for path, sent in {
        "set-up/scales/": made,
        "set-up/keys/": {"label": "x", "scope": "read", "days": "9"},
    }.items():
        answer = tablet.post(f"/w/quay/{path}", {**sent, "idempotency_key": path})
        assert answer.status_code == 403, path
    assert tablet.get("/workshops/").url.startswith("/sign-in/")
    assert tablet.get("/password/").url.startswith("/sign-in/")
    assert tablet.get("/api/v1/lots/").status_code == 401, "no way into the API"
    act(tablet, "quay", vi, PINS["Vi"])
    assert tablet.get("/w/quay/record/").status_code == 403, "nor more than the role may"


@pytest.mark.parametrize("minutes", [2, 5])
def test_it_locks_after_the_workshops_time(tablet, ada, bo, minutes):
    with time_machine.travel(NOON, tick=False) as clock:
        if minutes != 5:
            lock_time_set(ada, minutes)
        act(tablet, "quay", bo, PINS["Bo"])
        clock.shift(timedelta(minutes=minutes, seconds=-1))
        assert tablet.get("/w/quay/").status_code == 200
        clock.shift(timedelta(minutes=minutes, seconds=-1))
        assert tablet.get("/w/quay/").status_code == 200, "each touch begins anew"
        clock.shift(timedelta(minutes=minutes, seconds=2))
        locked = tablet.get("/w/quay/stock/?form=flake")
        assert locked.url == "/w/quay/acting/?next=%2Fw%2Fquay%2Fstock%2F%3Fform%3Dflake"


def test_what_a_page_asks_by_itself_is_no_touch(tablet, bo):
    with time_machine.travel(NOON, tick=False) as clock:
        act(tablet, "quay", bo, PINS["Bo"])
        for _minute in range(5):
            clock.shift(timedelta(minutes=1))
            tablet.get("/w/quay/outbox/pages/", headers={"X-Kept-Copy": "1"})
            tablet.get("/w/quay/", headers={"HX-Request": "true"})
            tablet.get("/w/quay/outbox/who/", headers={"X-Asked-By-Page": "1"})
        clock.shift(timedelta(seconds=2))
        assert is_locked(tablet.get("/w/quay/"))
        assert tablet.get("/w/quay/outbox/who/").status_code == 423


def test_a_password_on_the_tablet_locks_too(tablet, ada, signed_in):
    with time_machine.travel(NOON, tick=False) as clock:
        signed_in(ada, tablet)
        assert tablet.get("/w/quay/set-up/tablets/").status_code == 200
        clock.shift(timedelta(minutes=5, seconds=1))
        assert is_locked(tablet.get("/w/quay/set-up/tablets/"))
        signed_in(ada, tablet)
        clock.shift(timedelta(minutes=5, seconds=1))
        assert tablet.get("/workshops/").url.startswith("/sign-in/")
        signed_in(ada, tablet)
        clock.shift(timedelta(minutes=5, seconds=1))
        assert tablet.get("/api/v1/lots/").status_code == 401


def test_a_tap_locks(tablet, bo):
    act(tablet, "quay", bo, PINS["Bo"])
    assert is_locked(tablet.post("/w/quay/lock/"))
    assert is_locked(tablet.get("/w/quay/"))


def test_what_was_sent_when_it_locked_is_there_for_whoever_typed_it(tablet, ada, bo):
    with time_machine.travel(NOON, tick=False) as clock:
        act(tablet, "quay", bo, PINS["Bo"])
        form = donation(tablet, "5.25 kg")
        clock.shift(timedelta(minutes=6))
        assert is_locked(tablet.post("/w/quay/collections/new/", form))
        assert not Run.objects.exists()
        answer = act(tablet, "quay", ada, PINS["Ada"])
        assert answer.url == "/w/quay/", "it is not the next one's"
        assert "5.25" not in tablet.get("/w/quay/acting/go-on/", follow=True).content.decode()
        tablet.post("/w/quay/lock/")
        answer = act(tablet, "quay", bo, PINS["Bo"])
        assert answer.url == "/w/quay/acting/go-on/"
        shown = tablet.get(answer.url)
        assert "5.25 kg" in text_of(shown)
        sent = {**{n: v for n, v in form.items() if n != "csrfmiddlewaretoken"}, "step": "change"}
        again = tablet.post("/w/quay/collections/new/", sent)
        refilled = form_of(again)
        assert refilled["bags-0-gross"] == ["5.25 kg"] and refilled["source"] == ["North school"]
        assert refilled["idempotency_key"] == form["idempotency_key"]
        assert tablet.post("/w/quay/collections/new/", refilled).status_code == 302
        assert Run.objects.count() == 1


def test_what_was_typed_outlives_a_second_lock_for_the_same_person(tablet, ada, bo):
    with time_machine.travel(NOON, tick=False) as clock:
        act(tablet, "quay", bo, PINS["Bo"])
        form = donation(tablet, "5.25 kg")
        clock.shift(timedelta(minutes=6))
        assert is_locked(tablet.post("/w/quay/collections/new/", form))
        for lock in (lambda: tablet.post("/w/quay/lock/"), lambda: clock.shift(360)):
            act(tablet, "quay", bo, PINS["Bo"])
            lock()
            act(tablet, "quay", ada, PINS["Ada"])
            assert "5.25" not in tablet.get("/w/quay/acting/go-on/", follow=True).content.decode()
            lock()
        assert act(tablet, "quay", bo, PINS["Bo"]).url == "/w/quay/acting/go-on/"
        assert "5.25 kg" in text_of(tablet.get("/w/quay/acting/go-on/"))
        assert tablet.post("/w/quay/collections/new/", form).status_code == 302
        tablet.post("/w/quay/lock/")
        assert act(tablet, "quay", bo, PINS["Bo"]).url == "/w/quay/", "it was taken up"


def test_what_was_typed_is_gone_once_it_is_left_or_half_a_day_old(tablet, bo):
    with time_machine.travel(NOON, tick=False) as clock:
        for hours, left in ((0, True), (13, False)):
            act(tablet, "quay", bo, PINS["Bo"])
            form = donation(tablet, "5.25 kg")
            tablet.post("/w/quay/lock/", {**form, "path": "/w/quay/collections/new/"})
            if left:
                act(tablet, "quay", bo, PINS["Bo"])
                tablet.post("/w/quay/acting/go-on/")
                tablet.post("/w/quay/lock/")
            clock.shift(timedelta(hours=hours))
            assert act(tablet, "quay", bo, PINS["Bo"]).url == "/w/quay/"
            assert "5.25" not in str(dict(tablet.session.items()))
            tablet.post("/w/quay/lock/")


def test_no_secret_is_kept_with_what_was_typed(tablet, ada, signed_in):
    with time_machine.travel(NOON, tick=False) as clock:
        signed_in(ada, tablet)
        clock.shift(timedelta(minutes=6))
        sent = {"name": "Cy", "username": "cy", "role": "operator", "password": "canary-secret-1"}
        tablet.post("/w/quay/set-up/members/", sent)
        kept = str(dict(tablet.session.items()))
        assert "Cy" in kept and "canary-secret-1" not in kept


def test_five_wrong_pins_shut_the_member_out_in_words(tablet, ada, bo):
    with time_machine.travel(NOON, tick=False) as clock:
        codes = [act(tablet, "quay", bo, f"700{n}").status_code for n in range(6)]
        assert codes == [422] * 5 + [429]
        right = act(tablet, "quay", bo, PINS["Bo"])
        assert right.status_code == 429 and "wrong too often" in text_of(right)
        assert act(tablet, "quay", ada, PINS["Ada"]).status_code == 302, "others go on"
        clock.shift(timedelta(hours=1))
        assert act(tablet, "quay", bo, PINS["Bo"]).status_code == 302


def test_guessing_across_members_shuts_the_tablet(tablet, ada, issued):
    people = [MemberFactory(actor=ada, name=f"M{n}") for n in range(7)]
    for one in people:
        pin_set(one, PASSWORD, "7302")
    with time_machine.travel(NOON, tick=False):
        codes = [
            act(tablet, "quay", one, f"81{n}5").status_code for one in people for n in range(5)
        ]
        assert codes.count(422) == 30 and set(codes[30:]) == {429}


def test_right_pins_are_no_tries(tablet, bo):
    with time_machine.travel(NOON, tick=False):
        for _turn in range(40):
            assert act(tablet, "quay", bo, PINS["Bo"]).status_code == 302


def test_tries_are_kept_in_the_history(tablet, issued, bo):
    act(tablet, "quay", bo, "7777")
    act(tablet, "quay", bo, PINS["Bo"])
    events = ChangeEvent.objects.filter(workshop_id=bo.workshop_id).order_by("pk")
    deeds = [(one.deed, one.actor) for one in events]
    assert (("wrong PIN", None)) in deeds and ("unlock", bo.reference) in deeds
    assert {"add", "set PIN"} <= {deed for deed, _actor in deeds}
    said = str(list(events.values_list("before", "after", "reason")))
    assert not any(pin in said for pin in (*PINS.values(), "7777")), "never the PIN itself"


def test_a_pin_is_kept_as_a_hash_and_nowhere_else(ada, bo):
    stored = MemberPin.objects.get(member_id=bo.member_id).digest
    assert PINS["Bo"] not in stored and identify_hasher(stored)
    assert not Attempt.objects.filter(bucket__contains=PINS["Bo"])


def test_the_first_hasher_of_the_service_is_argon2():
    assert PASSWORD_HASHERS[0].endswith("Argon2PasswordHasher")


def test_the_pin_of_another_workshop_opens_nothing(tablet, ada):
    other = WorkshopFactory(slug="mill", name="Old mill", username="milly")
    twin = MemberFactory(actor=other, username="ada", name="Ada of the mill")
    pin_set(other, PASSWORD, "5031")
    pin_set(twin, PASSWORD, "1946")
    for who, pin in ((other, "5031"), (twin, "1946")):
        answer = act(tablet, "quay", who, pin)
        assert answer.status_code == 422
    assert act(tablet, "quay", ada, "1946").status_code == 422, "one's PIN of elsewhere"
    act(tablet, "quay", ada, PINS["Ada"])
    assert tablet.get("/w/mill/").url.startswith("/sign-in/"), "though she is a member there"
    assert "mill" not in tablet.get("/w/quay/acting/").content.decode()


def test_a_tablet_of_another_workshop_asks_to_sign_in(ada, bo):
    other = WorkshopFactory(slug="mill", name="Old mill")
    device = Client()
    device.cookies[COOKIE] = tablet_add(other, "Theirs").token
    assert device.get("/w/quay/").url.startswith("/sign-in/")
    assert device.get("/w/quay/acting/").url.startswith("/sign-in/")
    assert act(device, "quay", bo, PINS["Bo"]).status_code in (302, 404)
    assert device.get("/w/quay/").url.startswith("/sign-in/")


@pytest.mark.parametrize("token", ["", "x" * 43, "x" * 5000, "\x00"])
def test_without_a_tablets_token_no_pin_is_asked_for(ada, bo, token):
    device = Client()
    if token:
        device.cookies[COOKIE] = token
    assert device.get("/w/quay/acting/").url.startswith("/sign-in/")
    answer = act(device, "quay", bo, PINS["Bo"])
    assert answer.status_code == 302 and answer.url.startswith("/sign-in/")


def test_a_revoked_tablet_opens_nothing_from_the_next_request_on(tablet, issued, ada, bo):
    act(tablet, "quay", bo, PINS["Bo"])
    assert tablet.get("/w/quay/").status_code == 200
    tablet_revoke(ada, issued.id)
    assert tablet.get("/w/quay/").url.startswith("/sign-in/")
    assert act(tablet, "quay", bo, PINS["Bo"]).url.startswith("/sign-in/")


def test_a_session_without_the_tablets_cookie_opens_nothing(tablet, bo):
    act(tablet, "quay", bo, PINS["Bo"])
    stolen = Client()
    stolen.cookies["sessionid"] = tablet.cookies["sessionid"].value
    assert stolen.get("/w/quay/").url.startswith("/sign-in/")


def test_each_person_gets_a_session_of_their_own(tablet, ada, bo):
    tablet.get("/w/quay/acting/")
    seen = []
    for who, pin in ((bo, PINS["Bo"]), (ada, PINS["Ada"]), (bo, PINS["Bo"])):
        act(tablet, "quay", who, pin)
        seen.append(tablet.cookies["sessionid"].value)
    assert len(set(seen)) == 3, "a key that was known before the PIN is worth nothing after it"
    old = Client()
    old.cookies[COOKIE], old.cookies["sessionid"] = tablet.cookies[COOKIE].value, seen[0]
    assert is_locked(old.get("/w/quay/"))


def test_whoever_left_or_removed_the_pin_acts_no_more(tablet, ada, bo):
    act(tablet, "quay", bo, PINS["Bo"])
    Member.objects.filter(pk=bo.member_id).update(left_at=NOON)
    assert is_locked(tablet.get("/w/quay/"))
    assert "Bo" not in text_of(tablet.get("/w/quay/acting/"))
    assert act(tablet, "quay", bo, PINS["Bo"]).status_code == 422


def test_one_sets_a_pin_with_ones_password(ada, signed_in):
    bo = MemberFactory(actor=ada, name="Bo", username="bo")
    device = signed_in(bo)

    def send(password: str, pin: str, again: str = ""):
        sent = {"password": password, "pin": pin, "again": again or pin, "idempotency_key": "once"}
        return device.post("/w/quay/account/", sent)

    def told() -> list[str]:
        events = ChangeEvent.objects.filter(subject=f"member {bo.member_id}", deed="set PIN")
        return list(events.values_list("deed", flat=True))

    for password, pin, again, words in [
        ("not-hers-at-all", "7302", "", "not your password"),
        (PASSWORD, "730", "", "4 to 8 digits"),
        (PASSWORD, "７３０２", "", "4 to 8 digits"),
        (PASSWORD, "123456789", "", "4 to 8 digits"),
        (PASSWORD, "4444", "", "one digit over and over"),
        (PASSWORD, "3456", "", "digits in order"),
        (PASSWORD, "7302", "7303", "differ"),
    ]:
        answer = send(password, pin, again)
        page = answer.content.decode()
        assert answer.status_code == 422 and words in page, (pin, text_of(answer)[:400])
        assert PASSWORD not in page and 'value="7302"' not in page
    assert not MemberPin.objects.filter(member_id=bo.member_id).exists()
    assert send(PASSWORD, "7302").status_code == 302
    assert MemberPin.objects.filter(member_id=bo.member_id).exists()
    assert send(PASSWORD, "7302").status_code == 302
    assert told() == ["set PIN"], "the same again changes nothing"
    assert send(PASSWORD, "9315").status_code == 302
    assert check_password("9315", MemberPin.objects.get(member_id=bo.member_id).digest)
    assert told() == ["set PIN"] * 2
    assert device.post("/w/quay/account/pin/remove/", {"idempotency_key": "r"}).status_code == 302
    assert not MemberPin.objects.filter(member_id=bo.member_id).exists()


def test_the_password_cannot_be_guessed_through_the_pin(ada, signed_in):
    device = signed_in(ada)
    answers = [
        device.post(
            "/w/quay/account/",
            {"password": f"guess-{n}-guess", "pin": "7302", "again": "7302", "idempotency_key": n},
        )
        for n in range(12)
    ]
    assert "not your password" in text_of(answers[9])
    assert "10 times within the hour" in text_of(answers[-1])
    right = {"password": PASSWORD, "pin": "7302", "again": "7302", "idempotency_key": "right"}
    assert device.post("/w/quay/account/", right).status_code == 429, "not even the right one"
    assert not Attempt.objects.filter(count__gt=13)
    assert check_password(PINS["Ada"], MemberPin.objects.get(member_id=ada.member_id).digest)


def test_a_wrong_password_counts_though_the_pin_is_refused_with_it(ada, signed_in):
    """Counted outside what a refusal undoes; a right one takes its tries off again."""
    device = signed_in(ada)

    def send(password: str, pin: str) -> int:
        sent = {"password": password, "pin": pin, "again": pin, "idempotency_key": pin}
        return device.post("/w/quay/account/", sent).status_code

    def tries() -> list[int]:
        return list(Attempt.objects.exclude(count=0).values_list("count", flat=True))

    before = tries()
    assert [send("guess-guess-guess", "4444") for _turn in range(3)] == [422] * 3
    assert sorted(tries()) == sorted([*before, 3])
    assert send(PASSWORD, "4444") == 422
    assert tries() == before
    assert check_password(PINS["Ada"], MemberPin.objects.get(member_id=ada.member_id).digest)
    assert send(PASSWORD, "7302") == 302
    assert check_password("7302", MemberPin.objects.get(member_id=ada.member_id).digest)


def test_one_changes_ones_password(ada, signed_in):
    device = signed_in(ada)
    sent = {"old_password": PASSWORD, "new_password1": "short", "new_password2": "short"}
    assert device.post("/password/", sent).status_code == 422
    new = "slow-heron-lands-77"
    sent = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    assert device.post("/password/", sent).status_code == 302
    assert Client().post("/sign-in/", {"username": "ada", "password": new}).status_code == 302


def test_the_old_password_cannot_be_guessed_where_it_is_changed(ada, signed_in):
    device, new = signed_in(ada), "slow-heron-lands-77"
    for guess in range(10):
        sent = {"old_password": f"guess-{guess}", "new_password1": new, "new_password2": new}
        assert "not your password" in text_of(device.post("/password/", sent))
    right = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    answer = device.post("/password/", right)
    assert answer.status_code == 422 and "10 times within the hour" in text_of(answer)


@pytest.mark.parametrize("role", ["operator", "viewer"])
def test_only_a_lead_makes_and_revokes_tablets(ada, issued, signed_in, role):
    device = signed_in(MemberFactory(actor=ada, role=role))
    for path in ("", "lock-time/", f"{issued.id}/revoke/"):
        address = f"/w/quay/set-up/tablets/{path}"
        assert device.get(address).status_code == 403
        assert device.post(address, {"label": "x", "idempotency_key": "k"}).status_code == 403


def test_a_lead_of_another_workshop_does_not_see_the_tablet(issued, signed_in):
    device = signed_in(WorkshopFactory(slug="mill", username="milly"))
    assert "Tablet nine" not in device.get("/w/mill/set-up/tablets/").content.decode()
    assert device.get(f"/w/mill/set-up/tablets/{issued.id}/revoke/").status_code == 404
    assert device.get("/w/quay/set-up/tablets/").status_code == 404


def test_pages_on_a_tablet_ask_two_queries_more(
    tablet, bo, signed_in, django_assert_max_num_queries
):
    act(tablet, "quay", bo, PINS["Bo"])
    tablet.get("/w/quay/stock/")
    with django_assert_max_num_queries(12):
        assert tablet.get("/w/quay/stock/").status_code == 200
