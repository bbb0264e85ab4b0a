"""A finding never changes: what it rests on is kept with it, and gives the same answer again."""

from __future__ import annotations

import hashlib
import json

import numpy as np
import pytest

from recycling.calc.suspects.exposure import listed_shares
from recycling.calc.suspects.posterior import weigh_suspects
from recycling.calc.suspects.priors import SuspectPriors
from recycling.calc.suspects.ranking import ranking
from recycling.models import KeptFinding, Member, Source
from recycling.queries.integrity.audit import audit
from recycling.queries.suspects.findings import finding_data, finding_page, findings
from recycling.records.suspects.findings import FindingEntry
from recycling.records.suspects.ranking import SuspectQuestion
from recycling.services.suspects import finding_keep
from shared.errors import Forbidden, Unknown
from tests.factories import with_scope
from tests.queries.spoilt import judge, spoilt_book
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db):
    told = spoilt_book()
    for place in range(6):
        judge(told, f"S{place}", good=place % 2 == 0)
    return told


def keep(told, **more):
    return finding_keep(told.actor, FindingEntry("Brittle in March", **more))


def test_a_finding_is_not_changed_by_later_verdicts(told):
    kept = keep(told, note="for the meeting")
    before = finding_page(told.actor, kept.number)
    assert (before.suspects.bad_spools, before.intact, before.note) == (3, True, "for the meeting")
    for place in range(6):
        judge(told, f"S{place}", good=True)
    assert finding_page(told.actor, kept.number) == before
    assert keep(told).number == kept.number + 1
    assert [row.number for row in findings(told.actor)] == [2, 1]


def test_its_data_give_the_same_answer_again(told):
    kept = keep(told, priors=SuspectPriors(full_share=0.5))
    held = json.loads(finding_data(told.actor, kept.number))
    spool, candidate, share = np.array(held["shares"]).T
    shares = listed_shares(spool, candidate, share, len(held["spools"]), len(held["candidates"]))
    again = ranking(
        weigh_suspects(
            shares,
            [one["standing"] for one in held["spools"]],
            SuspectPriors(**held["answer"]["priors"]),
        ),
        50,
    )
    shown = finding_page(told.actor, kept.number).suspects
    assert shown.priors.full_share == 0.5
    assert again.state.value == shown.state
    assert [row.posterior for row in shown.rows] == pytest.approx(
        [line.posterior for line in again.lines], abs=1e-6
    )
    assert [{held["candidates"][m]["key"] for m in line.members} for line in again.lines] == [
        {one.key for one in row.members} for row in shown.rows
    ]


def test_the_digest_is_that_of_the_data_and_tampering_shows(told):
    kept = keep(told)
    body = finding_data(told.actor, kept.number)
    assert hashlib.sha256(body.encode()).hexdigest() == kept.digest
    KeptFinding.objects.update(body=body.replace("suspect", "suspicious", 1))
    assert not finding_page(told.actor, kept.number).intact
    (found,) = audit(told.actor.workshop_id)
    assert (found.invariant, found.subject) == (7, f"finding {kept.number}")


def test_names_of_people_and_givers_are_not_frozen(told):
    Member.objects.filter(pk=told.actor.member_id).update(name="Ada of the long name")
    kept = keep(told)
    body = finding_data(told.actor, kept.number)
    assert "Source of C2" not in body and "Ada" not in body
    shown = finding_page(told.actor, kept.number).suspects
    names = {one.name for row in shown.rows for one in row.members if one.kind == "origin"}
    assert "Source of C2" in names
    Source.objects.filter(name="Source of C2").update(name="erased")
    again = finding_page(told.actor, kept.number)
    assert again.intact
    assert "erased" in {one.name for row in again.suspects.rows for one in row.members}


def test_what_cannot_be_kept_says_why(told):
    with refused("title-missing", pointer="/title"):
        finding_keep(told.actor, FindingEntry(" "))
    with refused("text-too-long", pointer="/title"):
        finding_keep(told.actor, FindingEntry("x" * 121))
    with refused("defect-unknown"):
        keep(told, question=SuspectQuestion(defects=("ugly",)))
    with pytest.raises(Forbidden):
        finding_keep(with_scope(told.actor, role="viewer"), FindingEntry("Title"))


def test_workshops_do_not_meet(told):
    number, strange = keep(told).number, spoilt_book(spools=1).actor
    assert findings(strange) == []
    for read in (finding_page, finding_data):
        with pytest.raises(Unknown):
            read(strange, number)
