"""Verdicts without an account: rate limited, looked at, changeable, each giver counted once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection

from recycling.models import Attempt, PublicLink, Verdict, VerdictPhoto
from recycling.queries.labels.spool_page import public_spool
from recycling.queries.lots.lots import lot_page
from recycling.queries.quality.verdicts import (
    counted_verdicts,
    spool_link,
    verdict_photo,
    verdicts_page,
)
from recycling.queries.suspects.ranking import suspects
from recycling.records.quality.verdicts import PublicVerdictEntry
from recycling.services.labels import link_give, link_revoke
from recycling.services.quality.public_verdicts import (
    MOST_FOR_SPOOL,
    MOST_FROM_ADDRESS,
    verdict_receive,
)
from recycling.services.quality.verdict_decide import photo_remove, verdict_decide
from shared.errors import Forbidden, Refused, TooOften, Unknown
from tests.factories import with_scope
from tests.queries.spoilt import judge, spoilt_book
from tests.services.refusing import refused
from tests.tables.test_photos import NAMED, telling_photo

pytestmark = pytest.mark.django_db
BAD = PublicVerdictEntry(False, ("brittle",), "snaps")
GOOD = PublicVerdictEntry(True)
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@pytest.fixture
def told(db):
    return spoilt_book(spools=2)


@pytest.fixture
def token(told) -> str:
    return link_give(told.actor, told.code("S0")).token


def receive(token, entry=BAD, giver="", address="203.0.113.7"):
    return verdict_receive(token, entry, giver, address)


def test_a_verdict_waits_until_the_workshop_counts_it(told, token):
    given = receive(token)
    assert given.lot == told.code("S0")
    assert suspects(told.actor).left_out.waiting == 1
    assert lot_page(told.actor, given.lot).verdicts == ()
    waiting = verdicts_page(told.actor).rows[0]
    assert (waiting.note, waiting.by_member, waiting.changed) == ("snaps", "", False)
    verdict_decide(told.actor, waiting.verdict, True)
    assert suspects(told.actor).bad_spools == 1
    assert lot_page(told.actor, given.lot).verdicts[0].note == "snaps"
    decided = verdicts_page(told.actor, "counted").rows[0]
    assert decided.decided_by == told.actor.name


def test_one_set_aside_does_not_count_and_needs_a_reason(told, token):
    receive(token)
    verdict = verdicts_page(told.actor).rows[0].verdict
    with refused("reason-missing", pointer="/reason"):
        verdict_decide(told.actor, verdict, False, " ")
    verdict_decide(told.actor, verdict, False, "printed with another make")
    assert suspects(told.actor).state == "no_verdicts"
    aside = verdicts_page(told.actor, "set aside").rows[0]
    assert aside.reason == "printed with another make"
    verdict_decide(told.actor, verdict, True)  # a decision can be changed
    assert suspects(told.actor).bad_spools == 1


def test_who_gave_it_can_change_it_and_counts_once(told, token):
    first = receive(token)
    again = receive(token, GOOD, first.giver)
    assert (again.giver, again.changed) == (first.giver, True)
    assert Verdict.objects.count() == 1  # the one that nobody had looked at is replaced
    verdict_decide(told.actor, verdicts_page(told.actor).rows[0].verdict, True)
    receive(token, BAD, first.giver)
    assert [good for _, good, _ in counted_verdicts([told.lot("S0").pk])] == [True]
    assert verdicts_page(told.actor).rows[0].changed
    verdict_decide(told.actor, verdicts_page(told.actor).rows[0].verdict, True)
    assert [good for _, good, _ in counted_verdicts([told.lot("S0").pk])] == [False]
    before = public_spool(token, first.giver).before
    assert (before.good, before.state) == (False, "counted")
    assert public_spool(token, "somebody else").before is None


def test_the_same_again_changes_nothing(told, token):
    first = receive(token)
    same = receive(token, BAD, first.giver)
    assert (Verdict.objects.count(), same.changed) == (1, False)


def test_the_giver_and_the_link_are_kept_as_hashes_only(told, token):
    giver = receive(token).giver
    link = PublicLink.objects.get()
    with connection.cursor() as cursor:
        kept = []
        for table in ("recycling_verdict", "recycling_publiclink", "recycling_attempt"):
            cursor.execute(f"SELECT * FROM {table}")
            kept += [str(row) for row in cursor.fetchall()]
    for secret in (giver, token, "203.0.113.7"):
        assert not [row for row in kept if secret in row]
    assert len(token) == 26 and link.seed not in token  # 128 bits


def test_a_flood_from_one_address_is_stopped_and_the_next_hour_is_open(told, token):
    with time_machine.travel(NOON, tick=False):
        PublicLink.objects.update(expires_at=NOON + timedelta(days=1))
        for _ in range(MOST_FROM_ADDRESS):
            receive(token, GOOD)
        with pytest.raises(TooOften) as caught:
            receive(token, GOOD)
        assert "60 minutes" in str(caught.value)
        receive(token, GOOD, address="198.51.100.9")
        assert Verdict.objects.count() == MOST_FROM_ADDRESS + 1
    with time_machine.travel(NOON + timedelta(hours=1), tick=False):
        receive(token, GOOD)
    with time_machine.travel(NOON + timedelta(hours=80), tick=False):
        PublicLink.objects.update(expires_at=NOON + timedelta(days=9))
        receive(token, GOOD)
        assert Attempt.objects.count() == 2  # what is old is forgotten


def test_a_flood_on_one_spool_is_stopped_whatever_the_address(told, token):
    for place in range(MOST_FOR_SPOOL):
        receive(token, GOOD, address=f"198.51.100.{place}")
    with pytest.raises(TooOften):
        receive(token, GOOD, address="192.0.2.1")


def test_a_try_that_was_refused_counts_too(told, token):
    for _ in range(MOST_FROM_ADDRESS):
        with pytest.raises(Refused):
            receive(token, PublicVerdictEntry(False))
    with pytest.raises(TooOften):
        receive(token, GOOD)


@pytest.mark.parametrize(
    ("entry", "code"),
    [
        (PublicVerdictEntry(False), "defect-missing"),
        (PublicVerdictEntry(True, ("brittle",)), "defect-of-good"),
        (PublicVerdictEntry(False, ("ugly",)), "defect-unknown"),
        (PublicVerdictEntry(True, note="x" * 501), "text-too-long"),
        (PublicVerdictEntry(True, photo=b"no photo"), "photo-unreadable"),
    ],
)
def test_what_is_no_verdict_is_refused(told, token, entry, code):
    with refused(code):
        receive(token, entry)
    assert not Verdict.objects.exists()


def test_a_photo_is_kept_without_place_and_name_and_can_be_removed(told, token):
    receive(token, PublicVerdictEntry(False, ("brittle",), photo=telling_photo()))
    verdict = verdicts_page(told.actor).rows[0]
    assert verdict.photo
    kept = verdict_photo(told.actor, verdict.verdict)
    assert kept.startswith(b"\xff\xd8") and NAMED not in kept
    with refused("reason-missing"):
        photo_remove(told.actor, verdict.verdict, "")
    photo_remove(told.actor, verdict.verdict, "shows a face")
    assert not VerdictPhoto.objects.exists()
    with pytest.raises(Unknown):
        verdict_photo(told.actor, verdict.verdict)


def test_a_link_that_is_revoked_expired_or_invented_opens_nothing(told, token):
    for wrong in ("", "x", token[:-1], token + "A"):
        with pytest.raises(Unknown):
            receive(wrong)
    assert link_give(told.actor, told.code("S0")).token == token  # a label can be reprinted
    link_revoke(told.actor, told.code("S0"))
    assert spool_link(told.actor, told.code("S0")).token == ""
    with pytest.raises(Unknown):
        public_spool(token)
    with refused("link-unknown"):
        link_revoke(told.actor, told.code("S0"))
    new = link_give(told.actor, told.code("S0")).token
    assert new != token
    with time_machine.travel(datetime.now(UTC) + timedelta(days=6 * 365)), pytest.raises(Unknown):
        public_spool(new)


def test_another_secret_key_makes_a_new_link_rather_than_a_wrong_one(told, token, settings):
    settings.SECRET_KEY = "another " * 8
    assert public_spool(token).code == told.code("S0")  # labels in the world go on working
    assert spool_link(told.actor, told.code("S0")).token == ""
    assert link_give(told.actor, told.code("S0")).token != token


def test_only_filament_gets_a_link(told):
    with refused("form-wrong"):
        link_give(told.actor, told.code("C1.1"))
    with refused("lot-unknown"):
        link_give(told.actor, "S999-0")


def test_the_public_page_names_no_giver_of_bottles(told, token):
    shown = public_spool(token)
    assert (shown.collections, shown.held) == (2, False)
    assert "Source of" not in repr(shown)
    told.tell("hold C1.1 spreading")
    assert public_spool(token).held


def test_workshops_do_not_meet(told, token):
    receive(token, PublicVerdictEntry(False, ("brittle",), photo=telling_photo()))
    verdict = Verdict.objects.get().pk
    strange = spoilt_book(spools=1).actor
    assert verdicts_page(strange).rows == ()
    for deed in (
        lambda: verdict_decide(strange, verdict, True),
        lambda: photo_remove(strange, verdict, "why"),
        lambda: verdict_photo(strange, verdict),
    ):
        with pytest.raises(Unknown):
            deed()
    assert public_spool(token, user_id=None).member_of == ""


def test_a_viewer_may_not_decide_nor_give_links(told, token):
    receive(token)
    viewer = with_scope(told.actor, role="viewer")
    with pytest.raises(Forbidden):
        verdict_decide(viewer, Verdict.objects.get().pk, True)
    with pytest.raises(Forbidden):
        link_give(viewer, told.code("S1"))
    judge(told, "S1", good=True, by="Vi")  # but may say how a spool printed
