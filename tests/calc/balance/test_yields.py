import math

import pytest

from recycling.calc.balance import yields
from shared.measured import Measured

NAN = float("nan")


class TestMoisture:
    def test_matches_the_worked_example(self, independent_check):
        # closed form w = water/(dry + water) (figure 23): 10.3 kg at 3 % wet basis
        check = independent_check(23)
        kg, wet = check["inputs"]["kg"], check["inputs"]["wet"]
        dry = yields.dry_mass(Measured(kg), Measured(wet))
        assert dry.value == pytest.approx(check["expected"]["dry"])

    def test_carries_both_uncertainties(self):
        # JCGM 100:2008, 5.1.2, derivatives by hand: 1 - w and m
        dry = yields.dry_mass(Measured(10.0, 0.1), Measured(0.02, 0.003))
        assert dry.u == pytest.approx(math.hypot(0.98 * 0.1, 10 * 0.003))

    def test_refuses_bad_mass_and_moisture(self):
        with pytest.raises(ValueError, match="wet mass"):
            yields.dry_mass(Measured(-1), Measured(0.1))
        with pytest.raises(ValueError, match="moisture"):
            yields.dry_mass(Measured(1), Measured(1.0))


class TestStageYield:
    def test_matches_a_period_worked_by_hand(self):
        # by hand: 80 of 100, 74 of 80, 74 of 100
        masses = {"collected": 100.0, "fed": 80.0, "spooled": 74.0}
        of = {name: Measured(mass) for name, mass in masses.items()}
        assert yields.stage_yield(of["fed"], of["collected"]).value == pytest.approx(0.80)
        assert yields.stage_yield(of["spooled"], of["fed"]).value == pytest.approx(0.925)
        assert yields.stage_yield(of["spooled"], of["collected"]).value == pytest.approx(0.74)

    def test_agrees_with_the_uncertainties_library(self):
        from uncertainties import ufloat

        ours = yields.stage_yield(Measured(74.0, 0.3), Measured(80.0, 0.4))
        theirs = ufloat(74.0, 0.3) / ufloat(80.0, 0.4)
        assert ours.u == pytest.approx(theirs.std_dev)

    def test_of_no_product_is_zero_and_still_uncertain(self):
        found = yields.stage_yield(Measured(0.0, 0.4), Measured(80.0))
        assert (found.value, found.u) == (0.0, pytest.approx(0.005))

    @pytest.mark.parametrize("product, fed", [(1, 0), (-1, 1), (1, -1)])
    def test_refuses_what_has_no_yield(self, product, fed):
        with pytest.raises(ValueError, match="no yield|cannot be negative"):
            yields.stage_yield(Measured(product), Measured(fed))


class TestFirstPassYield:
    def test_is_that_of_the_pass_alone(self):
        # closed form: 10 kg give 8 of flake and 2 of oversize, which gives 1.6 when run again
        first = yields.first_pass_yield(Measured(8.0), Measured(10.0), Measured(0.0))
        both = yields.first_pass_yield(Measured(9.6), Measured(10.0), Measured(2.0))
        assert first.value == pytest.approx(both.value) == pytest.approx(0.8)
        assert yields.stage_yield(Measured(9.6), Measured(10.0)).value == pytest.approx(0.96)

    def test_of_own_scrap_alone_counts_it_as_fed(self):
        assert yields.first_pass_yield(Measured(1), Measured(0), Measured(2)).value == 0.5

    @pytest.mark.parametrize("fresh, again", [(0, 0), (-1, 2), (2, -1)])
    def test_refuses_what_was_never_fed(self, fresh, again):
        with pytest.raises(ValueError, match="no yield|fresh|again"):
            yields.first_pass_yield(Measured(1), Measured(fresh), Measured(again))


class TestChainYield:
    MASSES = {
        "bottles": Measured(85.0, 0.5),
        "flake": Measured(80.0, 0.9),
        "fed": Measured(79.0, 0.9),
        "wound": Measured(74.0, 0.4),
    }

    def test_lets_a_weighing_between_two_stages_cancel(self):
        chain = yields.chain_yield([("flake", "bottles"), ("wound", "flake")], self.MASSES)
        direct = yields.stage_yield(self.MASSES["wound"], self.MASSES["bottles"])
        assert chain.value == pytest.approx(direct.value)
        assert chain.u == pytest.approx(direct.u)

    def test_adds_relative_uncertainties_where_nothing_is_shared(self):
        # JCGM 100:2008, 5.1.6: products of powers
        chain = yields.chain_yield([("flake", "bottles"), ("wound", "fed")], self.MASSES)
        relative = math.hypot(*(m.u / m.value for m in self.MASSES.values()))
        assert chain.value == pytest.approx(80 / 85 * 74 / 79)
        assert chain.u / chain.value == pytest.approx(relative)

    @pytest.mark.parametrize(
        "steps, message",
        [
            ([], "steps needs at least 1"),
            ([("spools", "bottles")], "no mass named 'spools'"),
            ([("wound", "nothing")], "no yield where nothing"),
        ],
    )
    def test_refuses_bad_steps(self, steps, message):
        with pytest.raises(ValueError, match=message):
            yields.chain_yield(steps, self.MASSES | {"nothing": Measured(0.0)})


class TestLossWaterfall:
    # by hand: 100 - 6 - 9 - 5 - 3 - 3 = 74
    LOSSES = [("non-target", 6), ("caps, rings, labels", 9), ("wash and grind", 5)]

    def test_runs_from_collected_to_spooled(self):
        losses = [*self.LOSSES, ("scrap", 3), ("unaccounted", 3)]
        steps = yields.loss_waterfall(100, losses, 74)
        assert [s.left_mg for s in steps] == [100, 94, 85, 80, 77, 74, 74]
        assert sum(s.change_mg for s in steps[1:]) == 74 - 100
        assert [s.label for s in steps].count("unaccounted") == 1

    def test_shows_what_the_losses_do_not_explain(self):
        steps = yields.loss_waterfall(100, self.LOSSES, 81)
        assert steps[-2] == yields.WaterfallStep("unaccounted", 1, 81)

    def test_takes_what_came_out_of_stock(self):
        assert yields.loss_waterfall(10, [("from stock", -5)], 15)[1].left_mg == 15

    @pytest.mark.parametrize(
        "collected, losses, spooled", [(-1, [], 0), (1, [], -1), (1, [("dust", 0.5)], 0)]
    )
    def test_refuses_what_is_no_whole_milligram(self, collected, losses, spooled):
        with pytest.raises(ValueError, match="whole number"):
            yields.loss_waterfall(collected, losses, spooled)
