"""Verdicts that only who was at work parts: it is said of the work, and nobody is named."""

from __future__ import annotations

import pytest

from recycling.models import Member, RunOperator
from recycling.queries.suspects.ranking import suspects
from recycling.web.suspects.words import side_words
from tests.factories import MemberFactory
from tests.histories import tell
from tests.queries.spoilt import judge

pytestmark = pytest.mark.django_db


def alike(spools=8):
    """Tell of spools that are of one lot of pellets, each from a run of its own."""
    told = tell("P1: pellets PET 20kg")
    for place in range(spools):
        told.tell(f"E{place} extrude P1.1 1kg -> filament 950g spool")
        told.codes[f"S{place}"] = told.codes[f"E{place}.1"]
    return told


def at_work(told, member: Member, *places: int) -> None:
    for place in places:
        RunOperator.objects.filter(run=told.run(f"E{place}")).delete()
        RunOperator.objects.create(run=told.run(f"E{place}"), member=member)


def member(told, name: str) -> Member:
    actor = MemberFactory(actor=told.actor, name=name, role="operator")
    return Member.objects.get(pk=actor.member_id)


def judged(told, bad):
    for place in range(8):
        judge(told, f"S{place}", good=place not in bad)
    return suspects(told.actor)


def test_shifts_that_part_the_verdicts_are_said_without_a_name():
    told = alike()
    early, late = member(told, "Nell"), member(told, "Olaf")
    at_work(told, early, 0, 1, 2, 3, 4)
    at_work(told, late, 5, 6, 7)
    found = judged(told, {5, 6, 7})
    assert found.by_shift
    (said,) = [one for one in side_words(found) if "shifts" in one]
    assert "Ask what was done" in said and "Olaf" not in said and "Nell" not in said


def test_two_at_work_on_all_part_nothing_and_few_verdicts_may_be_chance():
    told = alike()
    assert not judged(told, {5, 6, 7}).by_shift  # one and the same person made all of them
    told = alike(3)
    at_work(told, member(told, "Pia"), 2)
    for place in range(3):
        judge(told, f"S{place}", good=place < 2)
    assert not suspects(told.actor).by_shift  # 1 of 3: by chance in a third of all orders
