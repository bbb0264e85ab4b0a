import numpy as np
import pytest

from recycling.calc import guards

NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize("guard", [guards.finite, guards.not_negative, guards.positive])
@pytest.mark.parametrize("number", [NAN, INF, -INF, True, None, "1", 1j])
def test_every_guard_refuses_what_is_no_finite_number(guard, number):
    with pytest.raises(ValueError, match="mass_mg must be a finite number"):
        guard("mass_mg", number)


@pytest.mark.parametrize(
    "guard, good, bad",
    [
        (guards.not_negative, 0, -1e-9),
        (guards.positive, 1e-9, 0),
        (guards.share, 0, -0.01),
        (guards.share, 1, 1.01),
        (guards.whole, 0, -1),
        (guards.whole, np.int64(3), 2.5),
        (guards.whole, 1, True),
        (guards.some, [1], []),
    ],
)
def test_each_guard_lets_the_good_through_and_names_the_bad(guard, good, bad):
    assert guard("the figure", good) == good
    with pytest.raises(ValueError, match="the figure"):
        guard("the figure", bad)


def test_numbers_of_an_array_pass():
    assert guards.positive("mass_mg", np.float64(2.5)) == 2.5
