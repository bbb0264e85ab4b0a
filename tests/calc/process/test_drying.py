import math

import pytest

from recycling.calc.process import drying

NAN = float("nan")


class TestDryingCheck:
    # about 140 °C for 5 h: common practice
    RECIPE = drying.Recipe(135.0, 150.0, 5.0)

    def test_counts_only_the_time_at_temperature(self):
        log = [(0.5, 90.0), (3.0, 140.0), (1.5, 135.0), (0.25, 160.0), (0.5, 150.0)]
        check = drying.drying_check(log, self.RECIPE)
        assert check == drying.DryingCheck(5.0, 0.0, 0.25, True)

    def test_says_what_is_missing(self):
        check = drying.drying_check([(4.0, 140.0), (1.0, 134.9)], self.RECIPE)
        assert (check.missing_h, check.dry_enough) == (1.0, False)

    @pytest.mark.parametrize("log", [[], [(-1.0, 140.0)], [(1.0, NAN)]])
    def test_refuses_a_bad_log(self, log):
        with pytest.raises(ValueError, match="log|hours|temperature_c"):
            drying.drying_check(log, self.RECIPE)

    @pytest.mark.parametrize("recipe", [(150, 135, 5), (135, 150, 0), (NAN, 150, 5)])
    def test_refuses_a_bad_recipe(self, recipe):
        with pytest.raises(ValueError, match="below its lowest|time_h|least_c"):
            drying.Recipe(*recipe)


class TestReadyInH:
    RECIPE = drying.Recipe(135.0, 150.0, 5.0)

    @pytest.mark.parametrize(
        "log, ready_h",
        [
            ([(0.0, 140.0)], 5.0),  # just begun
            ([(0.5, 90.0), (3.0, 140.0)], 2.0),  # heating up does not count
            ([(2.0, 140.0), (1.0, 100.0), (1.0, 135.0)], 2.0),  # nor does a pause
            ([(6.0, 140.0)], 0.0),
            ([(6.0, 140.0), (1.0, 60.0)], 0.0),  # done, and cooled since
            ([(3.0, 140.0), (0.5, 90.0)], None),  # too cold now: no end can be promised
            ([(3.0, 140.0), (0.5, 160.0)], None),  # too hot counts no more than too cold
        ],
    )
    def test_counts_down_while_the_time_counts(self, log, ready_h):
        assert drying.ready_in_h(log, self.RECIPE) == ready_h

    def test_the_moment_stays_while_time_passes(self):
        moments = {h + drying.ready_in_h([(0.5, 90.0), (h, 140.0)], self.RECIPE) for h in (1, 2, 4)}
        assert moments == {5.0}

    @pytest.mark.parametrize("log", [[], [(-1.0, 140.0)], [(1.0, NAN)]])
    def test_refuses_a_bad_log(self, log):
        with pytest.raises(ValueError, match="log|hours|temperature_c"):
            drying.ready_in_h(log, self.RECIPE)


class TestOpenCheck:
    @pytest.mark.parametrize(
        "open_h, left, within", [([], 0.5, True), ([0.25, 0.25], 0.0, True), ([0.75], -0.25, False)]
    )
    def test_adds_up_against_the_limit(self, open_h, left, within):
        check = drying.open_check(open_h, 0.5)
        assert (check.left_h, check.within) == (left, within)

    @pytest.mark.parametrize("open_h, limit", [([-1], 1), ([NAN], 1), ([1], -1)])
    def test_refuses_bad_times(self, open_h, limit):
        with pytest.raises(ValueError, match="open_h|limit_h"):
            drying.open_check(open_h, limit)


def stepped_slab(fourier, cells=200, steps=4000):
    """Mean concentration of a slab by implicit finite differences, from face to middle."""
    import numpy as np
    from scipy.linalg import solve_banded

    r = fourier / steps * cells**2
    bands = np.zeros((3, cells))
    bands[0, 1:], bands[2, :-1], bands[1] = -r, -r, 1 + 2 * r
    bands[1, 0], bands[1, -1] = 1 + 3 * r, 1 + r  # the face at zero half a cell off; no flux
    c = np.ones(cells)
    for _ in range(steps):
        c = solve_banded((1, 1), bands, c)
    return float(c.mean())


class TestSlab:
    @pytest.mark.parametrize("fourier, left", [(0.2, 0.49591), (1.0, 0.06874)])
    def test_matches_crank(self, fourier, left):
        # Crank, The Mathematics of Diffusion, 2nd ed. 1975, eq. 4.18 (plane sheet), summed by hand
        assert round(drying.slab_remaining(fourier), 5) == left

    def test_matches_a_worked_example(self):
        # polykin documentation, uptake_sheet: t = 100 s, a = 0.2 mm, D = 1e-10 m²/s, Fo = 0.25,
        # uptake 0.562233541762138
        assert 1 - drying.slab_remaining(0.25) == pytest.approx(0.562233541762138, abs=1e-12)

    @pytest.mark.parametrize("fourier", [0.02, 0.05, 0.3])
    def test_agrees_with_stepping_the_diffusion_equation(self, fourier):
        assert drying.slab_remaining(fourier) == pytest.approx(stepped_slab(fourier), abs=5e-4)

    def test_has_no_step_where_its_two_forms_meet(self):
        below, above = drying.slab_remaining(0.05 * (1 - 1e-12)), drying.slab_remaining(0.05)
        assert below == pytest.approx(above, abs=1e-9)

    def test_starts_full_and_ends_empty(self):
        assert drying.slab_remaining(0) == 1
        assert drying.slab_remaining(50) == pytest.approx(0, abs=1e-12)

    @pytest.mark.parametrize("fourier", [-0.1, NAN])
    def test_refuses_a_bad_number(self, fourier):
        with pytest.raises(ValueError, match="fourier"):
            drying.slab_remaining(fourier)


class TestRemainingMoisture:
    def test_scales_between_start_and_balance(self):
        # Fo = 1 for a half thickness of 0.3 mm and D = 1e-11 m²/s after 9000 s = 2.5 h
        left = drying.remaining_moisture(0.004, 0.0004, 0.6, 1e-11, 2.5)
        assert left == pytest.approx(0.0004 + 0.0036 * 0.06874, abs=1e-7)

    def test_is_what_it_was_at_the_start(self):
        assert drying.remaining_moisture(0.004, 0.0, 0.6, 1e-11, 0) == 0.004

    @pytest.mark.parametrize(
        "arguments",
        [
            (0.001, 0.002, 0.6, 1e-11, 1),
            (1.0, 0.0, 0.6, 1e-11, 1),
            (0.004, -0.1, 0.6, 1e-11, 1),
            (0.004, 0.0, 0.0, 1e-11, 1),
            (0.004, 0.0, 0.6, 0.0, 1),
            (0.004, 0.0, 0.6, 1e-11, -1),
        ],
    )
    def test_refuses_bad_input(self, arguments):
        with pytest.raises(ValueError, match="moisture|thickness_mm|diffusivity|time_h"):
            drying.remaining_moisture(*arguments)


class TestDiffusivity:
    def test_has_the_slope_of_arrhenius(self):
        # closed form: ln(D1/D2) = -E/R (1/T1 - 1/T2), R = 8.314462618 J/(mol K), SI brochure
        cold, hot = (drying.diffusivity_m2_per_s(t, 1e-6, 40.0) for t in (100.0, 140.0))
        slope = math.log(hot / cold) / (1 / 373.15 - 1 / 413.15)
        assert slope == pytest.approx(40_000 / 8.314462618)

    @pytest.mark.parametrize("arguments", [(-300, 1, 1), (NAN, 1, 1), (20, 0, 1), (20, 1, 0)])
    def test_refuses_bad_input(self, arguments):
        with pytest.raises(ValueError, match="temperature|factor|activation"):
            drying.diffusivity_m2_per_s(*arguments)


class TestHydrolysis:
    def test_makes_one_chain_more_for_each_molecule_of_water(self):
        # stoichiometry, counted in moles for 1 kg: chains before + water = chains after
        chains = 1000 / 24_000 + 1000 * 80e-6 / 18.015
        after = drying.molar_mass_after_hydrolysis(24_000, 80e-6)
        assert after == pytest.approx(1000 / chains)

    def test_costs_nothing_when_dry(self):
        assert drying.molar_mass_after_hydrolysis(24_000, 0) == pytest.approx(24_000)
        assert drying.viscosity_loss_at_most(0.76, 0, 7.5e-4, 0.68) == pytest.approx(0)

    def test_costs_viscosity_by_the_power_law(self):
        # closed form: [η]'/[η] = (Mn'/Mn)^a; K and a from memory
        molar_mass = (0.76 / 7.5e-4) ** (1 / 0.68)
        ratio = 1 / (1 + molar_mass * 100e-6 / 18.015)
        loss = drying.viscosity_loss_at_most(0.76, 100e-6, 7.5e-4, 0.68)
        assert loss == pytest.approx(0.76 * (1 - ratio**0.68))

    @pytest.mark.parametrize("mn, moisture", [(0, 0.1), (NAN, 0.1), (1, -0.1), (1, 1)])
    def test_refuses_bad_molar_mass_and_moisture(self, mn, moisture):
        with pytest.raises(ValueError, match="molar_mass|moisture"):
            drying.molar_mass_after_hydrolysis(mn, moisture)

    @pytest.mark.parametrize("iv, k, a", [(0, 1, 1), (1, 0, 1), (1, 1, 0), (NAN, 1, 1)])
    def test_refuses_bad_viscosity_and_constants(self, iv, k, a):
        with pytest.raises(ValueError, match="viscosity|houwink"):
            drying.viscosity_loss_at_most(iv, 0.001, k, a)
