import pytest

from recycling.calc.quality import particles

NAN = float("nan")


class TestClopperPearson:
    def test_matches_the_check_values(self, independent_check):
        # Clopper and Pearson 1934, from the formula (figure 16)
        check = independent_check(16)
        for (k, n), (low, high) in zip(check["inputs"], check["expected"], strict=True):
            assert particles.clopper_pearson(k, n) == pytest.approx((low, high), abs=5e-7)

    @pytest.mark.parametrize("k, n", [(0, 1), (1, 1), (3, 7), (20, 20), (4, 200)])
    @pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
    def test_agrees_with_the_exact_binomial_test_of_scipy(self, k, n, confidence):
        from scipy.stats import binomtest

        theirs = binomtest(k, n).proportion_ci(confidence, method="exact")
        ours = particles.clopper_pearson(k, n, confidence)
        assert ours == pytest.approx((theirs.low, theirs.high), rel=1e-9)

    @pytest.mark.parametrize(
        "k, n, confidence, message",
        [
            (0, 0, 0.95, "n must be a whole number of at least 1"),
            (-1, 5, 0.95, "k must be a whole number"),
            (6, 5, 0.95, "k cannot be more than n"),
            (1, 5, 1.0, "confidence"),
            (1, 5, NAN, "confidence"),
        ],
    )
    def test_refuses_bad_input(self, k, n, confidence, message):
        with pytest.raises(ValueError, match=message):
            particles.clopper_pearson(k, n, confidence)


class TestSizeCheck:
    # limit of 4 mm before feeding: common practice
    def test_feeds_what_is_small_enough(self):
        check = particles.size_check([2.0] * 100, limit_mm=4.0, allowed=0.05)
        assert (check.above, check.decision, check.sure) == (0, "feed", True)
        assert check.sentence.endswith("confidence).")

    def test_says_when_too_few_were_measured(self):
        check = particles.size_check([2.0] * 10, limit_mm=4.0, allowed=0.05)
        assert (check.decision, check.sure) == ("feed", False)
        assert "10 particles cannot tell" in check.sentence

    def test_runs_again_what_is_too_large(self):
        check = particles.size_check([2.0] * 50 + [6.0] * 50, limit_mm=4.0, allowed=0.05)
        assert (check.share, check.decision, check.sure) == (0.5, "run again", True)
        assert check.low < 0.5 < check.high

    def test_runs_again_on_a_single_one_where_none_is_allowed(self):
        check = particles.size_check([2.0] * 9 + [4.001], limit_mm=4.0, allowed=0)
        assert (check.above, check.decision, check.sure) == (1, "run again", True)

    def test_a_particle_at_the_limit_is_not_above_it(self):
        assert particles.size_check([4.0], limit_mm=4.0, allowed=0).decision == "feed"

    @pytest.mark.parametrize(
        "sizes, limit, allowed, message",
        [
            ([], 4.0, 0.05, "largest_mm needs at least 1"),
            ([0.0], 4.0, 0.05, "largest_mm must be above zero"),
            ([NAN], 4.0, 0.05, "largest_mm must be a finite"),
            ([1.0], 0.0, 0.05, "limit_mm"),
            ([1.0], 4.0, 1.5, "allowed"),
        ],
    )
    def test_refuses_bad_input(self, sizes, limit, allowed, message):
        with pytest.raises(ValueError, match=message):
            particles.size_check(sizes, limit, allowed)


class TestParticlesToBeSure:
    @pytest.mark.parametrize("allowed", [0.01, 0.05, 0.308497, 0.5])
    def test_is_the_fewest_that_do(self, allowed):
        # held against the exact binomial test of scipy, with none above
        from scipy.stats import binomtest

        n = particles.particles_to_be_sure(allowed)
        assert binomtest(0, n).proportion_ci(0.95, method="exact").high <= allowed
        assert binomtest(0, n - 1).proportion_ci(0.95, method="exact").high > allowed

    @pytest.mark.parametrize("allowed", [0, 1, -0.1, NAN])
    def test_refuses_a_bad_share(self, allowed):
        with pytest.raises(ValueError, match="allowed"):
            particles.particles_to_be_sure(allowed)
