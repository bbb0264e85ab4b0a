"""What is assumed of masses and of closing is the workshop's setting, shown where it counts."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest

from recycling.queries.balance.closures import NOT_WITHIN, closures
from recycling.queries.balance.weighings import weighings
from recycling.queries.balance.yields import yields
from recycling.queries.runs.runs import run_page
from recycling.queries.setup.practice import practices
from recycling.queries.suspects.spool_contents import spool_contents
from recycling.records.lots.mass_entries import WeighingEntry
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.setup.first_limits import FIRST_MATERIALS, FIRST_WINDOWS, GUIDE
from recycling.records.setup.first_settings import PRACTICES
from recycling.records.setup.practice import NOT_CHECKED, PracticeEntry
from recycling.services.setup.practice import practice_set
from tests.checks import checked
from tests.factories import KG, START, G, OriginFactory, ScaleFactory
from tests.histories import tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
LONG = (START - timedelta(days=1), START + timedelta(days=400))


def setting(told, key: str, value: float) -> None:
    practice_set(told.actor, PracticeEntry(key, value, "own trials"))


def bag(told, how: str, **more):
    bags = (BagEntry(2 * KG, polymer="PET", weighing=WeighingEntry(how=how), **more),)
    run = OriginFactory(actor=told.actor, bags=bags).run
    return run_page(told.actor, run).figures[0]


@pytest.mark.parametrize(
    ("how", "key", "first", "more"),
    [
        ("estimated", "estimated_u_percent", 20, {}),
        ("counted", "counted_u_percent", 10, {"count": 80}),
    ],
)
def test_an_assumed_share_is_a_setting_with_its_source(how, key, first, more):
    told = tell("")
    before = bag(told, how, **more)
    assert before.u_mg == pytest.approx(2 * KG * first / 100)
    assert before.assumption == f"{first} %, default, not checked"
    setting(told, key, 7)
    after = bag(told, how, **more)
    assert after.u_mg == pytest.approx(2 * KG * 0.07)
    assert after.assumption == "7 %, own trials"


def test_the_step_of_an_unknown_scale_is_a_setting_until_one_is_set_up():
    told = tell("")

    def by_hand(step_mg: float) -> float:  # OIML R 76-1, table 6: up to 500 e half a step, twice
        return math.hypot(step_mg / math.sqrt(12), step_mg / math.sqrt(3))

    assert bag(told, "weighed").u_mg == pytest.approx(by_hand(5 * G))
    setting(told, "no_scale_step_g", 20)
    found = bag(told, "weighed")
    assert (found.u_mg, found.assumption) == (
        pytest.approx(by_hand(20 * G)),
        "20 g, own trials",
    )
    ScaleFactory(actor=told.actor, name="bench", interval_mg=1 * G, capacity_mg=15 * KG)
    named = bag(told, "weighed")
    assert (named.basis, named.assumption) == ("assumed scale", "")


def test_the_overview_names_what_it_rests_on():
    told = tell("C1: flake PET 5kg")
    rests_on = weighings(told.actor, *LONG).rests_on
    assert [(row.key, row.value, row.unit, row.source) for row in rests_on] == [
        ("counted_u_percent", 10, "%", "default, not checked"),
        ("estimated_u_percent", 20, "%", "default, not checked"),
        ("no_scale_step_g", 5, "g", "default, not checked"),
    ]


def test_where_the_states_of_closing_end_is_a_setting():
    told = tell("C1: flake PET 5kg\nR1 dry C1.1 1kg -> dried flake 940g")
    first = closures(told.actor, *LONG)
    assert (first.within, first.usual, first.to_look_at, first.open) == (0, 0, 1, 0)
    setting(told, "open_sd", 9)
    setting(told, "usual_sd", 6)
    usual = closures(told.actor, *LONG)
    assert (usual.within, usual.usual, usual.to_look_at, usual.open) == (0, 1, 0, 0)
    assert [(row.key, row.value) for row in usual.rests_on[:3]] == [
        ("within_u", 2),
        ("usual_sd", 6),
        ("open_sd", 9),
    ]
    assert run_page(told.actor, told.code("R1")).closure.state == "usual"


def test_the_bounds_of_closing_do_not_cross():
    told = tell("")
    with refused("window-wrong", pointer="/value"):
        setting(told, "usual_sd", 4.5)
    setting(told, "open_sd", 5)
    setting(told, "usual_sd", 4.5)
    with refused("window-wrong", pointer="/value"):
        setting(told, "open_sd", 4)


def test_what_does_not_balance_on_the_way_of_a_spool_is_what_the_list_of_runs_says():
    told = tell(
        "C1: bottles PET 100kg\n"
        "R1 sort C1.1 50kg -> clean bottles 39kg\n"
        "R2 shred R1.1 30kg -> flake 29900g\n"
        "R3 dry R2.1 2kg -> dried flake 1999g\n"
        "R4 extrude R3.1 1kg -> filament 950g spool"
    )
    listed = closures(told.actor, *LONG, state=NOT_WITHIN)
    found = spool_contents(told.actor, told.code("R4.1")).deviations
    uneven = {one.run for one in found if one.kind == "balance"}
    assert uneven == {one.run for one in listed.rows}
    assert told.code("R1") in uneven and told.code("R3") not in uneven


def test_how_many_runs_make_the_limits_of_a_chart_firm_is_a_setting():
    told = tell(
        "C1: flake PET 50kg\n"
        + "".join(f"R{n} dry C1.1 1kg -> dried flake {990 + n}g\n" for n in range(1, 5))
    )
    assert yields(told.actor, *LONG, stage="dry").chart.provisional
    setting(told, "chart_runs", 4)
    chart = yields(told.actor, *LONG, stage="dry").chart
    assert (chart.provisional, chart.firm.source) == (False, "own trials")


def test_every_first_setting_says_where_it_comes_from():
    told = tell("")
    shown = {row.key: row for row in practices(told.actor)}
    assert shown.keys() == {field.key for field in PRACTICES}
    published = {GUIDE, NOT_CHECKED, "JCGM 100:2008, 6.2.1"}
    for one in (*PRACTICES, *FIRST_WINDOWS, *FIRST_MATERIALS):
        assert set(one.source.split("; ")) <= published


def test_first_limits_are_those_of_the_guide_and_the_others_say_so():
    # injection moulding guide of Santa Clara University, School of Engineering; the rest is
    # "not confirmed" there and "default, not checked" here
    named = {"guide": GUIDE, "not confirmed": NOT_CHECKED}
    rows = {(one.polymer, one.kind): one for one in FIRST_MATERIALS}
    windows = {one.material: one for one in FIRST_WINDOWS}
    keys = {"dry_low_c": "least_c", "dry_high_c": "most_c", "dry_h": "time_h"}
    table = checked("polymers")["polymers"]
    assert windows.keys() == table.keys()
    for polymer, told in table.items():
        one = windows[polymer]
        assert [one.low_c, named[told["melt_low_c"][1]]] == [told["melt_low_c"][0], one.low_source]
        assert [one.high_c, named[told["melt_high_c"][1]]] == [
            told["melt_high_c"][0],
            one.high_source,
        ]
        shown = {}
        for kind in ("limits", "drying"):
            row = rows.get((polymer, kind))
            if row:
                shown |= {key: [value, row.sources[key]] for key, value in row.values.items()}
        expected = {
            keys.get(key, key): [float(value), named[source]]
            for key, (value, source) in ((k, v) for k, v in told.items() if k != "kind")
            if not key.startswith("melt_")
        }
        assert shown == expected, polymer
