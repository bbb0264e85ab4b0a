"""The page that a spool's label opens: no account, nothing that names anybody, nothing lost."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from recycling.models import Verdict, VerdictPhoto
from recycling.services.labels import link_revoke
from recycling.services.quality.public_verdicts import MOST_FROM_ADDRESS
from recycling.web.labels.spool_page import GIVER, LARGEST_REQUEST
from shared.codes import label_path
from tests.tables.test_photos import NAMED, telling_photo

pytestmark = pytest.mark.django_db
BAD = {"good": "bad", "defects": ["brittle", "discoloured"], "note": "snaps"}


@pytest.fixture
def anybody() -> Client:
    return Client()


def text(answer) -> str:
    return answer.content.decode()


def test_anybody_sees_what_the_spool_is_and_no_source(told, anybody, token):
    page = anybody.get(f"/v/{token}/")
    body = text(page)
    assert page.status_code == 200
    assert told.code("S7") in body and "bottles of 2 collections" in body
    assert "never for food contact" in body
    assert "Source of" not in body and told.actor.name not in body.split("<main")[1]
    assert page["Cache-Control"] == "no-store"
    assert page["X-Robots-Tag"] == "noindex, nofollow"
    assert GIVER not in page.cookies


def test_a_verdict_is_taken_thanked_for_and_can_be_changed(told, anybody, token):
    answer = anybody.post(f"/v/{token}/", BAD)
    assert answer.status_code == 302
    cookie = anybody.cookies[GIVER]
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and cookie["path"] == "/v/"
    page = text(anybody.get(answer["Location"]))
    assert "Thank you" in page and "not looked at it yet" in page
    assert 'value="brittle"' in page and page.count("checked") == 3 and "snaps" in page
    anybody.post(f"/v/{token}/", {"good": "good"})
    verdict = Verdict.objects.get(state="waiting")
    assert (verdict.good, verdict.defects) == (True, [])
    assert "Thank you" not in text(Client().get(answer["Location"]))


def test_the_workshop_looks_at_it_and_counts_it(told, anybody, token, at, press):
    anybody.post(f"/v/{token}/", {**BAD, "photo": SimpleUploadedFile("me.jpg", telling_photo())})
    assert "Print results to check <small>1</small>" in text(at(""))
    listed = text(at("verdicts/"))
    verdict = Verdict.objects.get(state="waiting").pk
    assert "snaps" in listed and "without an account" in listed
    assert f"/verdicts/{verdict}/photo/" in listed
    photo = at(f"verdicts/{verdict}/photo/")
    assert photo["Content-Type"] == "image/jpeg" and NAMED not in photo.content
    press(f"verdicts/{verdict}/decide/", deed="aside", reason="")
    assert "Say why" in text(at("verdicts/"))
    press(f"verdicts/{verdict}/decide/", deed="count", idempotency_key="press-2")
    assert Verdict.objects.get(pk=verdict).state == "counted"
    assert "Print results to check" not in text(at(""))
    assert "The workshop counts it." in text(anybody.get(f"/v/{token}/"))
    press(f"verdicts/{verdict}/decide/", deed="photo", reason="a face", idempotency_key="press-3")
    assert not VerdictPhoto.objects.exists()
    at(f"verdicts/{verdict}/photo/", 404)
    press("verdicts/999999999999999999999/decide/", 404, deed="count", idempotency_key="press-4")
    press(f"verdicts/{verdict}/decide/", deed="eat", idempotency_key="press-5")


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({}, "Say good or bad."),
        ({"good": "bad"}, "choose at least one"),
        ({"good": "good", "defects": ["brittle"]}, "A good spool has no defects."),
        ({"good": "bad", "defects": ["ugly"]}, "not one of the available choices"),
        ({"good": "good", "note": "x" * 501}, "500"),
        ({"good": "good", "photo": SimpleUploadedFile("a.jpg", b"words")}, "cannot be read as"),
        ({"good": "good", "photo": SimpleUploadedFile("a.jpg", b"")}, "empty"),
    ],
)
def test_what_is_no_verdict_keeps_what_was_typed(anybody, token, sent, says):
    answer = anybody.post(f"/v/{token}/", {"note": "I typed this", **sent})
    body = text(answer)
    assert answer.status_code == 422, body
    assert says in body and 'id="error-summary"' in body
    assert sent.get("note", "I typed this") in body
    assert not Verdict.objects.filter(state="waiting").exists()


def test_a_flood_is_stopped_in_words_and_loses_nothing(anybody, token):
    for place in range(MOST_FROM_ADDRESS):
        Client().post(f"/v/{token}/", {"good": "good", "note": str(place)})
    answer = anybody.post(f"/v/{token}/", BAD)
    assert answer.status_code == 429 and answer["Retry-After"]
    assert "try again in" in text(answer) and "snaps" in text(answer)
    assert Verdict.objects.filter(state="waiting").count() == MOST_FROM_ADDRESS


@pytest.mark.slow
def test_the_address_is_that_behind_ones_own_proxies_only(token, settings):
    def flood(headers):
        statuses = [
            Client().post(f"/v/{token}/", {"good": "good"}, **headers(place)).status_code
            for place in range(MOST_FROM_ADDRESS + 1)
        ]
        return statuses[-1]

    assert flood(lambda place: {"HTTP_X_FORWARDED_FOR": f"198.51.100.{place}"}) == 429
    settings.PROXY_HOPS = 1
    assert flood(lambda place: {"HTTP_X_FORWARDED_FOR": f"192.0.2.{place}, 203.0.113.5"}) == 429


@pytest.mark.parametrize("token", ["x", "A" * 22, "é" * 10, "a" * 4000])
def test_an_address_that_opens_nothing_says_so(anybody, db, token):
    answer = anybody.get(f"/v/{token}/")
    assert answer.status_code == 404
    assert "This address opens nothing" in text(answer)
    assert anybody.post(f"/v/{token}/", BAD).status_code == 404


def test_a_revoked_address_opens_nothing(told, anybody, token):
    link_revoke(told.actor, told.code("S7"))
    assert anybody.get(f"/v/{token}/").status_code == 404


def test_too_much_is_refused_before_it_is_read(anybody, token):
    answer = anybody.generic(
        "POST",
        f"/v/{token}/",
        b"x",
        content_type="multipart/form-data; boundary=b",
        CONTENT_LENGTH=str(LARGEST_REQUEST + 1),
    )
    assert answer.status_code == 413 and "too large" in text(answer)


def test_a_form_from_elsewhere_is_refused(token):
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(f"/v/{token}/", BAD).status_code == 403
    strict.get(f"/v/{token}/")
    sent = BAD | {"csrfmiddlewaretoken": strict.cookies["csrftoken"].value}
    assert strict.post(f"/v/{token}/", sent).status_code == 302


def test_a_held_spool_says_so_without_the_reason(told, anybody, token):
    told.tell("hold C2.1 spreading")
    body = text(anybody.get(f"/v/{token}/"))
    assert "Please do not print with it for now" in body
    assert "looks odd" not in body


def test_a_member_sees_the_page_and_the_ways_to_all_of_it(told, browser, token):
    """Their verdict is given in their own name, where it counts at once."""
    body = text(browser.get(f"/v/{token}/"))
    lot = f"/w/{told.actor.slug}/lots/{told.code('S7')}"
    assert f'href="{lot}/"' in body and f'href="{lot}/verdict/"' in body
    assert 'name="good"' not in body


def test_the_square_on_a_label_opens_the_page(told, anybody, token):
    """In capitals, with the token behind the code; the token stands in no log."""
    from structlog.testing import capture_logs

    code = told.code("S7")
    with capture_logs() as lines:
        answer = anybody.get(label_path(told.actor.slug, code, token))
    assert answer["Location"] == f"/v/{token}/" and answer["Cache-Control"] == "no-store"
    assert token not in str(lines)
    assert anybody.get(f"/v/{token.lower()}/").status_code == 200
    assert anybody.get(label_path(told.actor.slug, code))["Location"].endswith(f"/lots/{code}/")


def test_what_a_printer_was_set_to_is_kept_shown_and_counted(told, anybody, token, press):
    printed = {"nozzle_c": "255", "bed_c": "75.5", "speed_mm_s": "40"}
    assert anybody.post(f"/v/{token}/", {"good": "good", **printed}).status_code == 302
    again = text(anybody.get(f"/v/{token}/"))
    assert 'value="255"' in again and 'value="75.5"' in again
    assert "where it printed well" not in again.split("<form")[0], "nobody has looked at it yet"
    verdict = Verdict.objects.get(state="waiting")
    assert (verdict.nozzle_c, verdict.bed_c, verdict.speed_mm_s) == (255, 75.5, 40)
    press(f"verdicts/{verdict.pk}/decide/", deed="count")
    seen = text(Client().get(f"/v/{token}/"))
    assert '<td class="number">255</td><td class="number">75.5</td>' in seen
    wrong = anybody.post(f"/v/{token}/", {"good": "good", "nozzle_c": "20"})
    assert wrong.status_code == 422 and "Between 100 and 500" in text(wrong)


def test_the_address_does_not_stand_in_the_log(anybody, token):
    from structlog.testing import capture_logs

    with capture_logs() as lines:
        anybody.get(f"/v/{token}/")
        anybody.get("/v/wrong-token/")
    assert [line["path"] for line in lines if line["event"] == "request"] == ["/v/-/"] * 2


def test_the_link_page_gives_shows_and_takes_away(told, at, press, anybody):
    code = told.code("S6")
    assert "Give it a public address" in text(at(f"lots/{code}/public/"))
    press(f"lots/{code}/public/change/", deed="give")
    page = text(at(f"lots/{code}/public/"))
    address = page.split('class="secret">')[1].split("<")[0]
    assert address.startswith("http://testserver/v/") and "<svg" in page
    assert anybody.get(address.removeprefix("http://testserver")).status_code == 200
    press(f"lots/{code}/public/change/", deed="revoke", idempotency_key="press-2")
    assert anybody.get(address.removeprefix("http://testserver")).status_code == 404
    press(f"lots/{code}/public/change/", deed="revoke", idempotency_key="press-3")
    press(f"lots/{told.code('C1.1')}/public/change/", deed="give", idempotency_key="press-4")
    press("lots/S999-0/public/change/", 404, deed="give", idempotency_key="press-5")
