"""What the next runs of a step will yield, against dense algebra and limits in closed form."""

import numpy as np
import pytest
from scipy import stats

from recycling.calc.planning.step_yield import (
    FIRST_YIELDS,
    HALF_LIFE_RUNS,
    FirstYield,
    PastRun,
    chance_of_failure,
    drawn,
    learn,
)

FIRST = FirstYield(0.8, 0.03)
MANY = 40_000


def rng():
    return np.random.default_rng(7)


def grouped(count=12):
    chance = np.random.default_rng(3)
    levels = {"A": 0.78, "B": 0.83, "C": 0.74}
    for place in range(count):
        name = "ABC"[place % 3]
        kg = chance.uniform(20, 60)
        yield PastRun(kg, kg * (levels[name] + 0.01 * chance.standard_normal()), name)


def test_groups_are_fitted_as_generalised_least_squares_does():
    """Gelman et al. (2013), 14.7: C as a full matrix, ρ within groups."""
    runs = list(grouped())
    learnt = learn(runs, FIRST)
    kg, y = np.array([(r.went_in, r.product / r.went_in) for r in runs]).T
    age = np.arange(len(runs))[::-1]
    w = 0.5 ** (age / HALF_LIFE_RUNS) * np.clip(np.sqrt(kg / kg.mean()), 0.25, 4)
    same = np.array([[a.group == b.group for b in runs] for a in runs])
    for place, rho in enumerate((0.02, 0.15, 0.3, 0.5, 0.7, 0.9)):
        inverse = np.linalg.inv((1 - rho) * np.diag(1 / w) + rho * same)
        kappa = 0.3 + inverse.sum()
        mean = (0.3 * 0.8 + (inverse @ y).sum()) / kappa
        squares = y @ inverse @ y + 2 * 0.03**2 + 0.3 * 0.8**2 - kappa * mean**2
        assert learnt.kappa[place] == pytest.approx(kappa)
        assert learnt.mean[place] == pytest.approx(mean)
        assert learnt.scatter[place] == pytest.approx(np.sqrt(squares / learnt.freedom))


def test_few_runs_draw_as_student_says():
    """Gelman et al. (2013), 3.3: normal and inverse gamma predict by a t distribution."""
    learnt = learn([PastRun(10, 8.1), PastRun(10, 8.3), PastRun(10, 8.0)], FIRST)
    [mean], [kappa], [scatter] = learnt.mean, learnt.kappa, learnt.scatter
    student = stats.t(learnt.freedom, mean, scatter * np.sqrt(1 / kappa + 1 / 2))
    found = np.quantile(drawn(learnt, 2, MANY, rng()), (0.05, 0.5, 0.95))
    assert found == pytest.approx(student.ppf((0.05, 0.5, 0.95)), abs=0.002)


def test_few_runs_are_shrunk_and_many_are_not():
    def mean(count):
        return learn([PastRun(10, 6.0)] * count, FirstYield(0.8, 0.03)).mean[0]

    assert mean(0) == 0.8
    assert mean(1) == pytest.approx((0.3 * 0.8 + 0.6) / 1.3)
    assert mean(60) == pytest.approx(0.6, abs=0.003)


def test_a_source_is_taken_in_part_for_what_its_own_bags_gave():
    runs = list(grouped(30))
    learnt = learn(runs, FIRST)
    of_all, *own = (
        float(np.median(drawn(learnt, 1, MANY, rng(), group))) for group in (None, "B", "C", "new")
    )
    of_b, of_c, unknown = own
    assert of_all + 0.01 < of_b < learnt.groups["B"][1]
    assert learnt.groups["C"][1] < of_c < of_all - 0.01
    assert unknown == pytest.approx(of_all, abs=0.01)


def test_a_known_source_scatters_as_its_own_bags_do():
    """Within a group the variance is (1 − ρ)σ², a few of its bags beside: most is between them."""
    learnt = learn(list(grouped(30)), FIRST)
    own, of_any = (np.std(drawn(learnt, 1, MANY, rng(), group)) for group in ("B", None))
    assert 0.008 < own < 0.02
    assert of_any > 2.5 * own


def test_more_runs_ahead_scatter_less():
    learnt = learn([PastRun(10, 8 + 0.3 * (n % 3)) for n in range(40)], FIRST)
    one, many = (np.std(drawn(learnt, runs, MANY, rng())) for runs in (1, 25))
    assert many < one / 3


def test_recent_runs_count_more_than_old_ones():
    better = [PastRun(10, 7.0)] * 30 + [PastRun(10, 9.0)] * 30
    assert learn(better, FIRST).mean[0] > 8.2 / 10
    assert learn(better[::-1], FIRST).mean[0] < 7.8 / 10


def test_a_failed_run_is_counted_and_does_not_bend_the_others():
    usual = [PastRun(10, 8 + 0.1 * (n % 2)) for n in range(11)]
    learnt = learn([*usual, PastRun(10, 0)], FIRST_YIELDS["extrude"])
    assert (learnt.runs, learnt.failed, learnt.failed_yields) == (12, 1, (0.0,))
    assert learnt.scatter[0] < 0.02
    assert chance_of_failure(learnt) == pytest.approx((0.4 + 1) / (10 + 12))
    yields = drawn(learnt, 1, MANY, rng())
    below = 1 / 2 + 1 / 2 * 0.6 / 0.8  # it gave nothing again, or anything up to 80 %
    assert np.mean(yields < 0.6) == pytest.approx(below * 1.4 / 22, abs=0.005)
    assert np.median(yields) == pytest.approx(0.805, abs=0.005)


def test_where_none_failed_only_extrusion_expects_a_failed_run():
    usual = [PastRun(10, 9.7), PastRun(10, 9.6), PastRun(10, 9.7)]
    dry, extrude = (learn(usual, FIRST_YIELDS[key]) for key in ("dry", "extrude"))
    assert chance_of_failure(dry) == 0
    assert drawn(dry, 1, MANY, rng()).min() > 0.6
    assert chance_of_failure(extrude) == pytest.approx(0.4 / 13)
    assert drawn(extrude, 1, MANY, rng()).min() < 0.3


@pytest.mark.parametrize("runs", [[], [PastRun(10, 0)], [PastRun(10, 0)] * 3, [PastRun(3, 4)]])
def test_draws_stay_shares_whatever_was_recorded(runs):
    yields = drawn(learn(runs, FIRST_YIELDS["extrude"]), 0.2, 2_000, rng(), "nobody")
    assert np.isfinite(yields).all() and yields.min() >= 0 and yields.max() <= 1


@pytest.mark.parametrize(("went_in", "product"), [(0, 1), (-1, 1), (float("nan"), 1), (1, -1)])
def test_a_run_that_cannot_be_is_refused(went_in, product):
    with pytest.raises(ValueError, match="must|cannot"):
        PastRun(went_in, product)
