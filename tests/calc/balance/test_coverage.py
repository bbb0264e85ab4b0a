"""Half-intervals that cover 95 %, against the GUM's own examples and closed forms.

Sources
-------
.. [1] JCGM 100:2008 (GUM): table G.2, the example of G.4.1, H.2 (tables H.2 to H.4), H.3.
.. [2] Quadrature by scipy, and closed forms named beside each value.
"""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from recycling.calc.balance.coverage import (
    effective_freedom,
    half_interval,
    largest_of,
    stated,
    student_factor,
)
from recycling.calc.balance.shared_errors import counted_mass, reading_parts
from shared.measured import RECTANGULAR, Measured, Source, combined, total

INF = math.inf
ABOUT_BOTTLES = (24_100, 25_900, 25_000, 26_300, 23_700)


@pytest.mark.parametrize(
    ("freedom", "factor"),
    # JCGM 100:2008, table G.2, fraction 95 %
    [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (6, 2.45), (7, 2.36), (8, 2.31)]
    + [(9, 2.26), (10, 2.23), (15, 2.13), (20, 2.09), (25, 2.06), (30, 2.04), (50, 2.01)]
    + [(INF, 1.96)],
)
def test_the_factors_of_the_gum(freedom, factor):
    assert round(student_factor(freedom), 2) == factor
    alone = Measured.of(7.0, {Source("mean", freedom=freedom): 2.0})
    assert stated(alone).half == pytest.approx(2 * student_factor(freedom))


def test_the_effective_degrees_of_freedom_of_the_gum():
    # JCGM 100:2008, G.4.1, example: y = b·x1·x2·x3 from means of 10, 5 and 15 readings
    relative = ((0.0025, 9), (0.0057, 4), (0.0082, 14))
    y = Measured(1.0)
    for place, (u, freedom) in enumerate(relative):
        y = y * Measured.of(2.0, {Source("mean", place, freedom=freedom): 2.0 * u})
    assert y.value == 8.0 and round(100 * y.u / 8, 2) == 1.03
    assert round(effective_freedom(y), 1) == 19.0
    assert round(student_factor(19), 2) == 2.09
    assert round(100 * student_factor(effective_freedom(y)) * y.u / 8, 1) == 2.2


def test_inputs_that_were_read_together_as_the_gum_has_them():
    # JCGM 100:2008, H.2: five readings at once of V, I and φ; tables H.2 and H.4
    volt = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
    ampere = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) / 1000
    phi = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])

    def mean(x):
        parts = (x - x.mean()) / math.sqrt(len(x) * (len(x) - 1))
        sources = (Source("set", n, freedom=4, estimate="sets") for n in range(5))
        return Measured.of(float(x.mean()), dict(zip(sources, parts.tolist(), strict=True)))

    v, i, angle = mean(volt), mean(ampere), mean(phi)
    z = v / i
    cosine = combined(math.cos(angle.value), [(angle, -math.sin(angle.value))])
    sine = combined(math.sin(angle.value), [(angle, math.cos(angle.value))])
    r, x = z * cosine, z * sine
    assert [round(one.value, d) for one, d in ((r, 3), (x, 3), (z, 2))] == [
        127.732,
        219.847,
        254.26,
    ]
    assert r.u == pytest.approx(0.071, abs=5e-4)
    assert x.u == pytest.approx(0.295, abs=1e-3)  # recomputed 0.2956
    assert z.u == pytest.approx(0.236, abs=5e-4)

    def correlation(a, b):
        return sum(c * b.parts[source] for source, c in a.parts.items()) / (a.u * b.u)

    found = [correlation(r, x), correlation(r, z), correlation(x, z)]
    assert found == pytest.approx([-0.588, -0.485, 0.993], abs=6e-4)
    assert effective_freedom(z) == pytest.approx(4)  # one estimate, however many contributions


def test_a_straight_line_with_correlated_coefficients_as_the_gum_has_it():
    # JCGM 100:2008, H.3: corrections of a thermometer, b = y1 + y2·(t − 20 °C)
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503])
    t = np.append(t, [26.010, 26.511]) - 20
    b = np.array([-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159])
    b = np.append(b, [-0.161, -0.160])
    design = np.column_stack([np.ones_like(t), t])
    weights = np.linalg.inv(design.T @ design) @ design.T
    fit = weights @ b
    spread = math.sqrt(float(np.sum((b - design @ fit) ** 2)) / 9)
    sources = [Source("reading", n, freedom=9, estimate="line") for n in range(11)]

    def coefficient(place):
        parts = (weights[place] * spread).tolist()
        return Measured.of(float(fit[place]), dict(zip(sources, parts, strict=True)))

    y1, y2 = coefficient(0), coefficient(1)
    assert (round(y1.value, 4), round(y1.u, 4)) == (-0.1712, 0.0029)
    assert (round(y2.value, 5), round(y2.u, 5)) == (0.00218, 0.00067)
    covariance = sum(c * y2.parts[source] for source, c in y1.parts.items())
    assert round(covariance / (y1.u * y2.u), 2) == -0.93
    at_30 = y1 + y2.times(10)
    assert (round(at_30.value, 4), round(at_30.u, 4)) == (-0.1494, 0.0041)
    assert effective_freedom(at_30) == pytest.approx(9)


@pytest.mark.parametrize(
    ("widths", "s", "freedom", "half"),
    [
        ([1], 0.0, INF, 0.95),  # closed form 0.95 a
        ([1, 1], 0.0, INF, 1.5528),  # closed form 2a(1 − √0.05)
        ([1], 0.3, INF, 1.1822),  # by quadrature, as those below
        ([1], 0.57735, INF, 1.5656),
        ([1, 0.5], 0.5, INF, 1.5654),
        ([1], 0.5, 4, 1.7246),
    ],
)
def test_rectangles_that_dominate(widths, s, freedom, half):
    assert half_interval(widths, (s, freedom)) == pytest.approx(half, abs=1e-4)
    parts = {Source("scale", n, RECTANGULAR): a / math.sqrt(3) for n, a in enumerate(widths)}
    parts |= {Source("other", 9, freedom=freedom): s} if s else {}
    assert stated(Measured.of(0.0, parts)).half == pytest.approx(half, abs=1e-4)


@pytest.mark.parametrize(
    ("s_t", "freedom", "s_normal", "half", "welch"),
    # by quadrature; beside it Welch and Satterthwaite alone, JCGM 100:2008, G.4.1: too short
    [(1, 1, 1, 12.785, 3.926), (1, 2, 1, 4.633, 3.261), (1, 2, 2, 5.714, 4.491)]
    + [(1, 4, 1, 3.361, 2.998)],
)
def test_one_estimate_from_few_keeps_its_own_t(s_t, freedom, s_normal, half, welch):
    both = Measured.of(0.0, {Source("few", freedom=freedom): s_t, Source("known"): s_normal})
    assert stated(both).half == pytest.approx(half, abs=1e-3)
    assert student_factor(effective_freedom(both)) * both.u == pytest.approx(welch, abs=1e-3)


@pytest.mark.parametrize(
    ("width", "s", "nu", "s_few", "nu_few"),
    [(1.0, 0.4, 12.0, 0.5, 2.0), (0.3, 1.0, 30.0, 0.8, 3.0)],
)
def test_a_rectangle_and_two_ts_agree_with_quadrature(width, s, nu, s_few, nu_few):
    half = half_interval([width], (s, nu), (s_few, nu_few))

    def beyond(x):  # of the first t and the rectangle, from x up
        def inner(y):
            return stats.t.sf((x - y) / s, nu) / (2 * width)

        return integrate.quad(inner, -width, width)[0]

    def outer(p):
        return beyond(half - s_few * stats.t.ppf(p, nu_few))

    assert 2 * integrate.quad(outer, 0, 1, limit=200)[0] == pytest.approx(0.05, abs=2e-4)


def test_many_small_rectangles_are_as_good_as_normal():
    parts = {Source("steps", n, RECTANGULAR): 1.0 for n in range(100)}
    assert stated(Measured.of(0.0, parts)).half == pytest.approx(1.96 * 10, rel=2e-3)


def test_a_value_without_a_doubt_has_none():
    exact = stated(Measured(5.0))
    assert (exact.half, exact.k, exact.freedom, exact.largest) == (0.0, 0.0, INF, ())


@pytest.mark.parametrize(
    ("widths", "rest", "message"),
    [([1, 1, 1], (1, 5), "at most 2"), ([0], (1, 5), "half_widths"), ([], (-1, 5), "s ")],
)
def test_bad_input_is_named(widths, rest, message):
    with pytest.raises(ValueError, match=message):
        half_interval(widths, rest)


@pytest.mark.parametrize("bags", [[100] * 20, [2_000]], ids=["twenty bags", "one bag"])
def test_bags_counted_from_one_sample_share_its_mean(bags):
    # u² = s²(N²/m + N), all of it from one s with m − 1 = 4 degrees of freedom: JCGM 100:2008,
    # 4.2.3, 5.2.2 and G.4; ± 2.780 kg, and the same for twenty bags of 100 as for one of 2,000
    mass = total(
        counted_mass(count, ABOUT_BOTTLES, sample="half litre", bag=bag)
        for bag, count in enumerate(bags)
    )
    found = stated(mass)
    assert (found.value, round(found.u)) == (50_000_000, 1_001_249)
    assert (found.freedom, round(found.half)) == (pytest.approx(4), pytest.approx(2_779_913, abs=2))
    (source, share), _ = found.largest
    assert (source.kind, source.name, round(share, 3)) == ("sample", "half litre", 0.998)


def test_one_scale_errs_alike_in_all_its_weighings():
    # OIML R 76-1, table 6 and 3.5.2: 2 kg on e = 5 g, class III, in service: ± 5 g; one error z
    # for a hundred weighings: 100 · 5 g/√3 and √100 · 5 g/√12
    masses = [
        Measured.of(2e6, reading_parts(2e6, 5_000, "III", "floor", number)) for number in range(100)
    ]
    summed = total(masses)
    by_kind = {}
    for source, part in summed.parts.items():
        by_kind[source.kind] = by_kind.get(source.kind, 0.0) + part**2
    assert math.sqrt(by_kind["scale"]) == pytest.approx(288_675.1, abs=0.1)
    assert math.sqrt(by_kind["steps"]) == pytest.approx(14_433.8, abs=0.1)
    assert stated(summed).half == pytest.approx(475_255, rel=1e-3)
    assert (masses[0] - masses[1]).u == pytest.approx(math.hypot(1, 1) * 5_000 / math.sqrt(12))


def test_the_largest_components_are_named_and_what_errs_alone_counts_together():
    parts = {Source("steps", n): 1.0 for n in range(9)} | {Source("scale", "bench"): 2.0}
    found = largest_of(Measured.of(1.0, parts | {Source("tare", "crate"): 0.5}))
    assert [(source.kind, source.name) for source, _ in found] == [
        ("steps", ""),
        ("scale", "bench"),
    ]
    assert [share for _, share in found] == pytest.approx([9 / 13.25, 4 / 13.25])
