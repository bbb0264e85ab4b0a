"""The search for a cause over a book: shares are those of the book, verdicts count as they should.

Shares are compared with the stored compositions, which come from another calculation. The Oswego
line list is in tests/calc/suspects/test_posterior.py; here the same search runs on lots and runs.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from recycling.models import Composition, Verdict
from recycling.queries.suspects.exposures import exposures
from recycling.queries.suspects.ranking import suspects
from recycling.records.suspects.ranking import KINDS, SuspectQuestion
from tests.factories import START
from tests.histories import tell
from tests.queries.spoilt import judge, spoilt_book
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


def named(found, place: int = 0) -> set[str]:
    return {one.code or one.key for one in found.rows[place].members}


def test_shares_in_origins_are_those_of_the_compositions():
    told = spoilt_book(spools=3)
    spools = [told.lot(f"S{place}") for place in range(3)]
    found = exposures([spool.pk for spool in spools])
    shares = found.shares
    for row, spool in enumerate(spools):
        stored = {
            f"origin:{part.origin.code}": part.mass_mg / spool.made_mg
            for part in Composition.objects.filter(lot=spool).select_related("origin")
        }
        mine = {
            found.candidates[column].key: share
            for place, column, share in zip(
                shares.spool, shares.candidate, shares.share, strict=True
            )
            if place == row and found.candidates[column].kind == "origin"
        }
        assert mine.keys() == stored.keys()
        for key, share in stored.items():
            assert mine[key] == pytest.approx(share, abs=2e-6)


def test_all_goes_through_the_only_machine_and_never_counts_twice():
    """Oversize that is shredded again meets its shredder twice and is exposed to it once."""
    told = tell(
        "C1: bottles PET 5kg\nR1 sort C1.1 all -> clean bottles 5kg\n"
        "R2 shred R1.1 all -> flake 3kg, oversize 2kg\nR3 shred R2.2 all -> flake 2kg\n"
        "R4 dry R2.1 3kg, R3.1 2kg -> dried flake 5kg\nR5 extrude R4.1 all -> filament 5kg spool"
    )
    found = exposures([told.lot("R5.1").pk])
    shares = dict(
        zip(
            [found.candidates[c].key for c in found.shares.candidate],
            found.shares.share,
            strict=True,
        )
    )
    machine = next(one.key for one in found.candidates if one.name == "shredder")
    assert shares[machine] == pytest.approx(1)
    assert shares[f"run:{told.code('R3')}"] == pytest.approx(0.4)
    assert shares[f"run:{told.code('R2')}"] == pytest.approx(1)
    assert shares[f"lot:{told.code('R2.2')}"] == pytest.approx(0.4)


def test_the_collection_in_every_bad_spool_leads():
    told = spoilt_book()
    for place in range(8):
        judge(told, f"S{place}", good=place % 2 == 0)
    found = suspects(told.actor)
    assert found.state == "suspect"
    assert {told.code("C2"), told.code("C2.1"), told.code("RB"), told.code("FB.1")} <= named(found)
    assert (found.rows[0].exposed_bad, found.rows[0].unexposed_good) == (4, 4)
    assert found.rows[0].p_value == pytest.approx(1 / 35)  # Fisher (1922): 2 of C(8, 4) = 70 tables
    assert (found.bad_spools, found.good_spools) == (4, 4)
    assert [one.standing for one in found.spools[:4]] == ["bad"] * 4
    assert found.spools[0].share == pytest.approx(0.6)
    total = sum(row.posterior for row in found.rows) + found.none_posterior
    assert total + found.others_posterior + found.unseen_posterior == pytest.approx(1)


def test_no_verdicts_only_bad_and_only_good_are_said_in_words():
    told = spoilt_book(spools=4)
    assert suspects(told.actor).state == "no_verdicts"
    judge(told, "S1", good=False)
    judge(told, "S3", good=False)
    found = suspects(told.actor)
    assert found.state == "only_bad"
    assert "without a good one to compare with" in found.words[0]
    Verdict.objects.all().delete()
    judge(told, "S0", good=True)
    assert suspects(told.actor).state == "only_good"


def test_all_spools_from_one_collection_cannot_be_told_apart():
    told = tell(
        "C1: bottles PET 20kg\nR1 sort C1.1 all -> clean bottles 19kg\n"
        "R2 shred R1.1 all -> flake 18kg\nR3 dry R2.1 all -> dried flake 18kg\n"
        "R4 extrude R3.1 all -> filament 1kg spool, filament 1kg spool, filament 1kg spool,"
        " filament 1kg spool, filament 1kg spool, filament 1kg spool"
    )
    for place in range(1, 7):
        judge(told, f"R4.{place}", good=place > 3)
    found = suspects(told.actor)
    assert found.state == "no_contrast"
    assert len(found.rows) == 1


def test_contradictory_verdicts_are_left_out_and_said():
    told = spoilt_book()
    for place in range(8):
        judge(told, f"S{place}", good=place % 2 == 0)
    judge(told, "S1", good=True, by="Bo")
    found = suspects(told.actor)
    assert found.left_out.contradictory == 1
    assert (found.bad_spools, found.good_spools) == (3, 4)
    assert any("both good and bad" in words for words in found.words)


def test_each_giver_counts_once_and_the_newest_verdict_counts():
    told = spoilt_book(spools=2)
    judge(told, "S0", good=False)
    judge(told, "S0", good=True)
    found = suspects(told.actor)
    assert (found.bad_spools, found.good_spools) == (0, 1)
    assert found.spools[0].good == 1


def test_waiting_and_set_aside_verdicts_do_not_count():
    told = spoilt_book(spools=2)
    judge(told, "S0", good=False)
    Verdict.objects.update(state=Verdict.WAITING)
    found = suspects(told.actor)
    assert (found.bad_spools, found.left_out.waiting) == (0, 1)
    Verdict.objects.update(state=Verdict.SET_ASIDE)
    assert suspects(told.actor).state == "no_verdicts"


def test_a_spool_bad_for_another_reason_is_left_out_not_counted_as_good():
    told = spoilt_book()
    for place in range(6):
        judge(told, f"S{place}", good=place % 2 == 0)
    judge(told, "S7", good=False, defects=("discoloured",))
    found = suspects(told.actor, SuspectQuestion(defects=("brittle",)))
    assert (found.bad_spools, found.good_spools, found.left_out.other_defects) == (3, 3, 1)


def test_a_void_run_in_the_chain_is_left_out_and_said():
    told = spoilt_book(spools=2)
    judge(told, "S1", good=False)
    judge(told, "S0", good=True)
    told.tell("void E1")
    found = suspects(told.actor)
    assert (found.bad_spools, found.good_spools, found.left_out.void) == (0, 1, 1)


def test_the_question_narrows_by_period_polymer_and_spools():
    told = spoilt_book(spools=4)
    for place in range(4):
        judge(told, f"S{place}", good=place % 2 == 0)
    last = told.run("E3").ended_at
    judged = lambda **asked: len(suspects(told.actor, SuspectQuestion(**asked)).spools)  # noqa: E731
    assert judged() == 4
    assert judged(start=last) == 1
    assert judged(end=last) == 3
    assert judged(polymer="HDPE") == 0
    assert judged(spools=(told.code("S1").lower(), told.code("S2"))) == 2
    found = suspects(told.actor, SuspectQuestion(spools=("S999-0", told.code("S1"))))
    assert found.left_out.unknown == ("S999-0",)
    only = suspects(told.actor, SuspectQuestion(kinds=("origin",)))
    assert {one.kind for row in only.rows for one in row.members} == {"origin"}


def test_what_cannot_be_asked_says_why():
    told = spoilt_book(spools=1)
    with refused("defect-unknown", pointer="/defects/0"):
        suspects(told.actor, SuspectQuestion(defects=("ugly",)))
    with refused("kind-unknown", pointer="/kinds/0"):
        suspects(told.actor, SuspectQuestion(kinds=("moon",)))
    with refused("period-backwards", pointer="/end"):
        suspects(told.actor, SuspectQuestion(start=START, end=START - timedelta(hours=1)))


def test_the_verdict_that_would_tell_the_most_is_of_a_spool_that_holds_a_suspect():
    told = spoilt_book(spools=8)
    for place in range(5):
        judge(told, f"S{place}", good=place % 2 == 0)
    found = suspects(told.actor)
    unjudged = {told.code(f"S{place}") for place in (5, 6, 7)}
    assert {one.lot for one in found.wanted} <= unjudged
    assert found.wanted[0].lot in {told.code("S5"), told.code("S7")}
    assert found.wanted[0].gain_bits > 0


def test_another_workshops_verdicts_and_spools_are_no_evidence():
    told, strange = spoilt_book(spools=2), spoilt_book(spools=2)
    judge(strange, "S1", good=False)
    assert suspects(told.actor).state == "no_verdicts"
    code = strange.code("S1")
    found = suspects(told.actor, SuspectQuestion(spools=(code,)))
    assert not found.rows
    with refused("lot-unknown"):
        from recycling.records.quality.entries import VerdictEntry
        from recycling.services.quality.verdict_give import verdict_give

        verdict_give(told.actor, VerdictEntry("S9999-3", True))


def test_heel_open_time_and_setting_are_candidates_and_people_are_none(lead):
    told = tell(
        "C1: bottles PET 20kg\nO1: heel HDPE 100g in extruder\n"
        "R1 sort C1.1 all -> clean bottles 19kg\nR2 shred R1.1 all -> flake 18kg\n"
        "R3 dry R2.1 9kg -> dried flake 9kg @20\n"
        "R4 extrude R3.1 2kg, O1.1 all -> filament 2kg spool, heel 90g @26",
        lead,
    )
    found = exposures([told.lot("R4.1").pk])
    keys = {one.key for one in found.candidates}
    assert "heel:HDPE" in keys
    assert "open:not recorded" in keys
    assert {one.kind for one in found.candidates} <= set(KINDS) and "operator" not in KINDS
