"""Five counters, rates and recycled content."""

from datetime import date

import pytest

from recycling.calc.reports.diversion import (
    DIVERTED,
    IN_WORDS,
    Counter,
    MassLine,
    counted,
    rate,
    recycled_content,
    recycling_rate,
)
from shared.measured import Measured

FIRST, LAST = date(2025, 5, 1), date(2025, 5, 31)
DAY = date(2025, 5, 3)


def line(counter=Counter.COLLECTED, kg=1.0, u=0.0, polymer="PET", on=DAY, written=None, **more):
    return MassLine(counter, polymer, Measured(kg * 1e6, u), on, written or on, **more)


def test_worked_period():
    """Collected 100, bottles 85, fed 80, spools 74: 80.0 %, 92.5 %, 74.0 % (closed form)."""
    masses = {Counter.COLLECTED: 100, Counter.ACCEPTED: 85, Counter.MELT: 80, Counter.PRODUCT: 74}
    found = counted([line(counter, kg) for counter, kg in masses.items()], FIRST, LAST)
    mass = {counter: count.total for counter, count in found.total.items()}
    assert rate(mass[Counter.MELT], mass[Counter.COLLECTED]).value == pytest.approx(0.80)
    assert rate(mass[Counter.PRODUCT], mass[Counter.MELT]).value == pytest.approx(0.925)
    assert rate(mass[Counter.PRODUCT], mass[Counter.COLLECTED]).value == pytest.approx(0.74)
    assert mass[Counter.DISPATCHED] == Measured(0.0)
    assert found.stock_mg().value == pytest.approx(5e6)
    assert 100 - 6 - 9 == 85
    assert 85 - 5 == 80 == 74 + 3.5 + 2.5


def test_recycling_rate_as_published():
    """US EPA definition: recycled over recycled and disposed; 820 and 180 give 82.0 %."""
    found = recycling_rate({"recycled": Measured(820.0), "disposed": Measured(180.0)})
    assert found.value == pytest.approx(0.82)


def test_burning_for_energy_is_not_diversion():
    burnt = recycling_rate({"recycled": Measured(50.0), "burnt for energy": Measured(50.0)})
    assert burnt.value == 0.5
    reused = recycling_rate({"reused": Measured(50.0), "disposed": Measured(50.0)})
    assert reused.value == 0.5
    assert [where for where, diverted in DIVERTED.items() if diverted] == ["recycled", "reused"]


def test_uncertainties_equal_a_propagation_library():
    """Independent: the uncertainties library, with the part inside the whole."""
    from uncertainties import ufloat

    r, d = ufloat(820, 12), ufloat(180, 30)
    found = recycling_rate({"recycled": Measured(820.0, 12.0), "disposed": Measured(180.0, 30.0)})
    assert (found.value, found.u) == pytest.approx(((r / (r + d)).n, (r / (r + d)).s))
    content = recycled_content(
        {
            "post-consumer": Measured(700.0, 9.0),
            "pre-consumer": Measured(120.0, 63**0.5),
            "virgin": Measured(180.0, 30.0),
        }
    )
    assert (content.value, content.u) == pytest.approx(((r / (r + d)).n, (r / (r + d)).s))
    part, whole = ufloat(74, 1), ufloat(80, 2)
    found = rate(Measured(74.0, 1.0), Measured(80.0, 2.0))
    assert (found.value, found.u) == pytest.approx(((part / whole).n, (part / whole).s))


def test_caps_count_under_their_own_polymer():
    found = counted([line(kg=5), line(kg=1, polymer="PP")], FIRST, LAST)
    assert {p: c[Counter.COLLECTED].total.value for p, c in found.by_polymer.items()} == {
        "PET": 5e6,
        "PP": 1e6,
    }
    assert found.total[Counter.COLLECTED].total.value == 6e6


def test_estimates_are_totalled_apart():
    found = counted([line(kg=5, u=30.0), line(kg=2, u=40.0, is_estimated=True)], FIRST, LAST)
    count = found.total[Counter.COLLECTED]
    assert (count.weighed.value, count.estimated.value) == (5e6, 2e6)
    assert count.total == Measured(7e6, 50.0)


def test_lines_belong_to_the_period_in_which_they_happened():
    april, june = date(2025, 4, 30), date(2025, 6, 1)
    late = line(kg=7, on=april, written=DAY)
    lines = [
        line(on=FIRST),
        line(on=LAST),
        line(kg=9, on=april),
        late,
        line(kg=9, on=june),
        line(kg=9, on=LAST, written=june),
    ]
    found = counted(lines, FIRST, LAST)
    assert found.total[Counter.COLLECTED].total.value == 2e6
    assert found.late == (late,)
    june_report = counted(lines, june, date(2025, 6, 30))
    assert june_report.total[Counter.COLLECTED].total.value == 9e6
    assert [entry.happened_date for entry in june_report.late] == [LAST]


def test_every_counter_is_said_in_words():
    assert set(IN_WORDS) == set(Counter)
    assert len(set(IN_WORDS.values())) == 5


def test_own_scrap_is_not_an_origin():
    with pytest.raises(ValueError, match="rework is not an origin"):
        recycled_content({"post-consumer": Measured(1.0), "rework": Measured(1.0)})
    assert recycled_content({"virgin": Measured(5.0)}).value == 0.0
    assert recycled_content({"pre-consumer": Measured(5.0)}).value == 1.0


@pytest.mark.parametrize(
    ("refused", "message"),
    [
        (lambda: recycling_rate({}), "no mass"),
        (lambda: recycling_rate({"composted": Measured(1.0)}), "composted is not one of"),
        (lambda: recycling_rate({"recycled": Measured(-1.0)}), "recycled is negative"),
        (lambda: recycled_content({}), "no mass"),
        (lambda: recycled_content({"virgin": Measured(-1.0)}), "virgin mass is negative"),
        (lambda: rate(Measured(1.0), Measured(0.0)), "whole above zero"),
        (lambda: rate(Measured(-1.0), Measured(1.0)), "part from zero up"),
        (lambda: counted([], LAST, FIRST), "before it starts"),
        (lambda: counted([line(on=LAST, written=FIRST)], FIRST, LAST), "was written on"),
    ],
)
def test_bad_input_is_named(refused, message):
    with pytest.raises(ValueError, match=message):
        refused()
