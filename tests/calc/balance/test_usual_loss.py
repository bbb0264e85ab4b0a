"""What runs usually lose: learnt from runs before, over a first setting."""

import random

import pytest

from recycling.calc.balance.usual_loss import (
    STATES,
    Band,
    First,
    Past,
    Usual,
    band,
    first_for,
    learn,
    state_of,
)

KG = 1_000_000.0


def runs(n, share=0.02, scatter=0.4, machine="A", seed=1):
    chance = random.Random(seed)
    for _ in range(n):
        x = chance.uniform(1, 8) * KG
        lost = share * x * chance.gammavariate(1 / scatter**2, scatter**2)
        yield Past(x, lost, 1_000.0, machine)


def test_a_single_run_over_a_prior_is_the_weighted_mean():
    # closed form: one observation of a alone (x small): precision-weighted mean of 5 g and 9 g
    first = First(5_000, 2_000, 0.0, 1e-9, scatter=0.0)
    usual = learn([Past(1.0, 9_000, 2_000.0)] * 2, "", "", first)
    expected = (5_000 / 4 + 2 * 9_000 / 4) / (1 / 4 + 2 / 4)
    assert usual.fixed_mg == pytest.approx(expected, rel=0.03)


def test_it_learns_share_and_scatter():
    usual = learn(list(runs(120)), "A", "", first_for("sort"))
    assert usual.mean_mg(4 * KG) == pytest.approx(0.02 * 4 * KG, rel=0.12)
    assert usual.scatter == pytest.approx(0.4, rel=0.3)
    assert usual.runs == 120


def test_it_gets_used_to_a_machine_that_loses_much_more_than_the_first_setting():
    past = list(runs(40, share=0.10))
    usual = learn(past, "A", "", first_for("dry"))
    flagged = [one for one in past if _state(usual, one) in STATES[2:]]
    assert len(flagged) <= 2


def _state(usual, one):
    return state_of(one.unaccounted_mg, band(usual, one.went_in_mg, one.u_mg))


def test_a_slip_in_the_past_hardly_moves_the_band():
    past = list(runs(40))
    before = learn(past, "A", "", first_for("sort"))
    after = learn([*past[:20], Past(5 * KG, 4 * KG, 1_000.0, "A"), *past[20:]], "A", "", First())
    assert after.mean_mg(4 * KG) == pytest.approx(before.mean_mg(4 * KG), rel=0.1)


def test_a_new_machine_begins_from_what_the_others_of_its_stage_lose():
    others = list(runs(60, share=0.05))
    new = learn(others, "B", "", first_for("sort"))
    alone = learn([], "B", "", first_for("sort"))
    true = 0.05 * 4 * KG
    assert abs(new.mean_mg(4 * KG) - true) < abs(alone.mean_mg(4 * KG) - true) / 2
    assert new.sd_mg(4 * KG, 0) > learn(others, "A", "", first_for("sort")).sd_mg(4 * KG, 0)


def test_only_the_last_runs_count():
    past = [*runs(200, share=0.10), *runs(120, share=0.01, seed=2)]
    usual = learn(past, "A", "", first_for("sort"))
    assert usual == learn(past[-120:], "A", "", first_for("sort"))


def test_what_people_say_they_lose_is_the_first_share():
    said = learn([], "", "", first_for("dry", 0.06))
    assert said.mean_mg(10 * KG) == pytest.approx(0.06 * 10 * KG + 5_000)


KNOWN = Usual(5_000, 0.01, (0.0, 0.0, 0.0), 0.4, runs=40, of_stage=40)


@pytest.mark.parametrize(
    ("unaccounted_g", "state"),
    [(0, 0), (1.9, 0), (61, 1), (-2.5, 1), (-3, 2), (130, 2), (-5, 3), (400, 3)],
)
def test_states(unaccounted_g, state):
    assert state_of(unaccounted_g * 1_000, band(KNOWN, 4.2 * KG, 1_000.0)) == STATES[state]


def test_the_ends_are_bent_by_the_skewness_of_losses():
    # Cornish and Fisher (1938): z + (z² − 1)·γ/6 with γ = 2c of a gamma variable, c = 0.4
    found = band(Usual(100_000, 0.0, (0.0, 0.0, 0.0), 0.4, of_stage=40), 1.0, 0.0)
    expected = 100_000 + 40_000 * (2.7 + (2.7**2 - 1) * 0.8 / 6)
    assert found.high_mg == pytest.approx(expected, rel=1e-6)


def test_the_first_runs_of_a_stage_are_at_most_to_look_at():
    early = band(Usual(5_000, 0.01, (0.0, 0.0, 0.0), 0.4, of_stage=4), KG, 1_000.0)
    assert isinstance(early, Band)
    assert state_of(0.9 * KG, early) == "to look at"


def test_a_wash_that_always_gains_water_is_usual_and_any_other_gain_is_not():
    past = [Past(KG, -60_000 - 3_000 * (n % 4), 1_000.0, "tub") for n in range(20)]
    wet = Past(KG, -66_000, 1_000.0, "tub")
    assert _state(learn(past, "tub", "", first_for("wash")), wet) == "usual"
    assert _state(learn(past, "tub", "", first_for("sort")), wet) in STATES[2:]


def test_nonsense_is_refused():
    with pytest.raises(ValueError, match="share"):
        first_for("sort", -0.1)
    with pytest.raises(ValueError, match="went_in_mg"):
        band(KNOWN, -1.0, 1.0)
