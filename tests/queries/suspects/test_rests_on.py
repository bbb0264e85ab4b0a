"""What a spool's share rests on, and between what it lies where the order is not known."""

from __future__ import annotations

import random
from itertools import permutations

import pytest

from recycling.calc.lots.share_ranges import share_range
from recycling.queries.lots.origins import lot_origins
from recycling.queries.suspects.affected import affected
from recycling.queries.suspects.ranking import suspects
from recycling.queries.suspects.spool_contents import spool_contents
from recycling.services.runs.run_model import run_model_choose
from tests.histories import tell
from tests.queries.spoilt import judge

TWO_LOTS = """
P1: pellets PET 400g
P2: pellets PET 600g
"""
AT_ONCE = TWO_LOTS + "R1 extrude P1.1 all, P2.1 all -> filament 750g spool, filament 240g spool"
LOGGED = (
    TWO_LOTS
    + """
    open R1 extrude P1.1 all
    R1 gives filament 380g spool
    R1 draws P2.1 all
    close R1 -> filament 600g spool
    """
)


def part(told, spool, origin):
    parts = spool_contents(told.actor, told.code(spool)).parts
    return next(one for one in parts if one.candidate.key == f"origin:{told.code(origin)}")


@pytest.mark.django_db
def test_lots_fed_in_no_known_order_are_mixed_and_the_share_is_given_as_a_range():
    told = tell(AT_ONCE)
    spool = spool_contents(told.actor, told.code("R1.1"))
    assert spool.rests_on == "order not known"
    assert lot_origins(told.actor, told.code("R1.1")).model == "order not known"
    one = part(told, "R1.1", "P1")
    # a lot of 400 g in a run of a kilogram: max(0, 1 - 600/750) to min(1, 400/750)
    assert one.share == pytest.approx(0.4)
    assert (one.least, one.most) == (pytest.approx(0.2), pytest.approx(400 / 750))
    assert part(told, "R1.2", "P1").most == 1.0 and part(told, "R1.2", "P2").least == 0.0
    machines = [one for one in spool.parts if one.candidate.kind in ("run", "machine")]
    assert machines and all(one.least is None for one in machines)


@pytest.mark.django_db
def test_a_spool_wound_again_has_the_range_of_the_melt_it_came_out_of():
    told = tell(AT_ONCE + "\nW1 wind R1.1 all -> filament 700g spool")
    assert part(told, "W1.1", "P1").least == pytest.approx(0.2)


@pytest.mark.django_db
def test_times_of_draws_and_cuts_tell_the_order():
    told = tell(LOGGED)
    spool = spool_contents(told.actor, told.code("R1.1"))
    assert spool.rests_on == "feed order" and part(told, "R1.1", "P1").share == 1.0
    assert part(told, "R1.1", "P1").most is None
    run_model_choose(told.actor, told.code("R1"), "well mixed", "the hopper was stirred")
    assert spool_contents(told.actor, told.code("R1.1")).rests_on == "well mixed"


@pytest.mark.django_db
def test_two_lots_fed_at_one_moment_have_no_known_order_whatever_was_cut_when():
    told = tell(
        TWO_LOTS
        + "open R1 extrude P1.1 all, P2.1 all\nR1 gives filament 380g spool\n"
        + "close R1 -> filament 600g spool"
    )
    assert spool_contents(told.actor, told.code("R1.1")).rests_on == "order not known"
    assert part(told, "R1.1", "P1").share == pytest.approx(0.4)


@pytest.mark.django_db
def test_an_order_that_a_person_stated_is_said_to_be_one():
    told = tell(AT_ONCE)
    run_model_choose(told.actor, told.code("R1"), "feed order", "fed as listed")
    spool = spool_contents(told.actor, told.code("R1.1"))
    assert spool.rests_on == "stated order"
    assert part(told, "R1.1", "P1").share == pytest.approx(400 / 750, abs=0.01)


@pytest.mark.django_db
def test_the_page_of_a_suspect_says_it_of_each_spool():
    told = tell(AT_ONCE)
    judge(told, "R1.1", good=False)
    judge(told, "R1.2", good=True)
    found = affected(told.actor, f"origin:{told.code('P1')}")
    told_of = {one.lot: (one.rests_on, one.least, one.most) for one in found.spools}
    least, most = pytest.approx(0.2), pytest.approx(400 / 750)
    assert told_of[told.code("R1.1")] == ("order not known", least, most)
    assert {one.rests_on for one in suspects(told.actor).spools} == {"order not known"}


@pytest.mark.parametrize("seed", range(6))
def test_the_range_is_that_of_all_orders_and_all_places_of_the_spool(seed):
    """Each order is cut by hand into spools at every whole gram; no closed form."""
    dice = random.Random(seed)
    fed = [(dice.randint(2, 9), round(dice.random(), 2)) for _ in range(4)]
    output = dice.randint(1, sum(mass for mass, _ in fed))
    found = []
    for order in permutations(fed):
        grams = [share for mass, share in order for _ in range(mass)]
        found += [sum(grams[at : at + output]) / output for at in range(len(grams) - output + 1)]
    assert share_range(fed, output) == pytest.approx((min(found), max(found)))
