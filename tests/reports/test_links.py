"""A public address opens one report, for a while, and tells nothing once it is closed."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest
import time_machine
from django.utils import timezone

from recycling.models import ReportLink, Source
from recycling.records.reports.documents import Column, Section, Table
from recycling.records.reports.files import FILES, OTHER_REPORT, SAME, UNKNOWN
from recycling.reports.asked import report_file, report_progress
from recycling.reports.consent import may_be_public
from recycling.reports.public import (
    public_file,
    public_report,
    public_verify,
    report_links,
    report_verify,
)
from recycling.services.reports.ask import report_ask
from recycling.services.reports.links import report_link_give, report_link_revoke
from shared.errors import Forbidden, Unknown
from tests.factories import with_scope
from tests.histories import tell
from tests.reports.conftest import STORY, entry, made
from tests.reports.sample import report
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


def sha(held: bytes) -> str:
    return hashlib.sha256(held).hexdigest()


def closed(token: str) -> None:
    """Expect that an address opens nothing, and says the same whatever the reason."""
    for read in (
        lambda: public_report(token),
        lambda: public_file(token, "pdf"),
        lambda: public_verify(token, "0" * 64),
    ):
        with pytest.raises(Unknown) as caught:
            read()
        assert str(caught.value) == "This address opens nothing."


def test_an_address_opens_its_report_and_its_files(told):
    code = made(told)
    link = report_link_give(told.actor, code)
    assert len(link.token) >= 22, "128 bits in base64"
    shown = public_report(link.token)
    assert shown.frozen.code == code and shown.superseded_by == ""
    for kind in FILES:
        assert public_file(link.token, kind) == report_file(told.actor, code, kind)
    with pytest.raises(Unknown):
        public_file(link.token, "exe")
    later = made(told, supersedes=code)
    assert public_report(link.token).superseded_by == later


def test_only_the_hash_of_a_token_is_kept(told):
    link = report_link_give(told.actor, made(told))
    kept = ReportLink.objects.get()
    assert kept.digest == sha(link.token.encode())
    assert link.token not in str(ReportLink.objects.values())
    assert report_links(told.actor, "D1-K")[0].token == link.token
    assert report_links(with_scope(told.actor, "manage", "operator"), "D1-K")[0].token == ""


def test_it_closes_when_it_is_taken_away_or_too_old(told):
    code = made(told)
    short, long = (report_link_give(told.actor, code, days) for days in (7, 700))
    assert report_link_revoke(told.actor, code, long.link) == code
    closed(long.token)
    assert report_links(told.actor, code)[0].token == ""
    assert public_report(short.token)
    with time_machine.travel(timezone.now() + timedelta(days=7, seconds=1)):
        closed(short.token)
    for token in ("", "x", short.token[:-1], short.token + "A", "x" * 5000):
        closed(token)
    with pytest.raises(Unknown):
        report_link_revoke(told.actor, code, long.link)


def test_a_source_must_have_agreed_and_may_change_its_mind(told):
    code = made(told, kind="thanks", source="Source of C1")
    with refused("consent-missing"):
        report_link_give(told.actor, code)
    Source.objects.filter(name="Source of C1").update(may_be_named=True)
    link = report_link_give(told.actor, code)
    assert public_report(link.token).frozen.code == code
    Source.objects.filter(name="Source of C1").update(may_be_named=False)
    closed(link.token)


def test_a_source_that_a_period_report_names_may_change_its_mind(told):
    unnamed = report_link_give(told.actor, made(told))
    asked = Source.objects.filter(name="Source of C1")
    asked.update(may_be_named=True)
    code = made(told)
    link = report_link_give(told.actor, code)
    assert "Source of C1" in report_file(told.actor, code, "csv")[1].decode()
    assert public_report(link.token).frozen.code == code
    asked.update(may_be_named=False)
    closed(link.token)
    assert public_report(unnamed.token), "it names nobody"
    with refused("consent-missing"):
        report_link_give(told.actor, code)
    assert not report_progress(told.actor, code).may_be_public
    asked.update(may_be_named=True)
    assert public_report(link.token).frozen.code == code
    asked.update(name="Another name")
    closed(link.token)


@pytest.mark.parametrize(("key", "column"), [("handed_on", "where"), ("spools_given", "receiver")])
def test_a_receiver_that_is_a_source_may_change_its_mind(told, key, column):
    columns = (Column("form", "Form", "text"), Column(column, "Receiver", "text"))
    rows = (("flake", "Source of C2"), ("flake", "A receiver that is not named"))
    frozen = report(sections=(Section("x", "X", tables=(Table(key, "T", columns, rows),)),))
    asked = Source.objects.filter(name="Source of C2")
    for agrees in (False, True):
        asked.update(may_be_named=agrees)
        assert may_be_public(told.actor, frozen) is agrees
    asked.update(name="Another name")
    assert not may_be_public(told.actor, frozen), "whoever changed the name may have changed more"
    strange = tell("C1: bottles PET 1kg").actor
    assert not may_be_public(strange, frozen), "another workshop's sources do not count"


def test_what_cannot_be_given(told):
    code, waiting = made(told), report_ask(told.actor, entry())
    with refused("report-not-frozen"):
        report_link_give(told.actor, waiting)
    for days in (0, -1, 5 * 365 + 1):
        with refused("number-out-of-bounds", pointer="/valid_days"):
            report_link_give(told.actor, code, days)
    with pytest.raises(Forbidden):
        report_link_give(with_scope(told.actor, "manage", "operator"), code)
    strange = tell("C1: bottles PET 1kg").actor
    link = report_link_give(told.actor, code)
    with pytest.raises(Unknown):
        report_link_give(strange, code)
    with pytest.raises(Unknown):
        report_link_revoke(strange, code, link.link)


def test_a_file_is_known_again_bit_for_bit(told):
    first, second = made(told), made(told, title="Another")
    link = report_link_give(told.actor, first)
    for kind in FILES:
        held = report_file(told.actor, first, kind)[1]
        found = public_verify(link.token, sha(held))
        assert (found.verdict, found.kind, found.report) == (SAME, kind, first)
        for changed in (held + b" ", held[:-1], held.replace(b"1", b"2", 1)):
            assert public_verify(link.token, sha(changed)).verdict == UNKNOWN
    other = sha(report_file(told.actor, second, "pdf")[1])
    assert public_verify(link.token, other).verdict == UNKNOWN, "it is not public"
    assert report_verify(told.actor, first, other).verdict == OTHER_REPORT
    report_link_give(told.actor, second)
    found = public_verify(link.token, other)
    assert (found.verdict, found.report, found.kind) == (OTHER_REPORT, second, "pdf")


def test_a_report_that_is_public_no_longer_is_unknown_to_other_addresses(told):
    link = report_link_give(told.actor, made(told))
    asked = Source.objects.filter(name="Source of C1")
    asked.update(may_be_named=True)
    thanks = made(told, kind="thanks", source="Source of C1")
    theirs = report_link_give(told.actor, thanks, 7)
    held = sha(report_file(told.actor, thanks, "pdf")[1])

    def verdict() -> str:
        return public_verify(link.token, held).verdict

    assert verdict() == OTHER_REPORT
    asked.update(may_be_named=False)
    assert verdict() == UNKNOWN, "whom it names has taken the consent back"
    asked.update(may_be_named=True)
    with time_machine.travel(timezone.now() + timedelta(days=8)):
        assert verdict() == UNKNOWN, "its address is too old"
    assert verdict() == OTHER_REPORT
    report_link_revoke(told.actor, thanks, theirs.link)
    assert verdict() == UNKNOWN, "its address was taken away"


def test_files_of_another_workshop_are_unknown(told):
    other = tell(STORY)
    theirs = made(other)
    report_link_give(other.actor, theirs)
    held = report_file(other.actor, theirs, "pdf")[1]
    link = report_link_give(told.actor, made(told))
    assert public_verify(link.token, sha(held)).verdict == UNKNOWN
