"""Where a milligram goes when givers' parts are no whole ones: hand-worked, to the milligram."""

from __future__ import annotations

from datetime import date

import pytest
from django.utils.translation import override

from recycling.models import RunCheck
from recycling.reports.places import said_mass
from tests.histories import tell
from tests.queries.reported import lines, report, table, total

pytestmark = pytest.mark.django_db

GIVERS = ("Source of C1", "Source of C2", "Source of C3")

# Three givers, a gram each. Laid along a line, a loss of 10 mg falls to them as 3, 3 and 4 mg
# (a third is 3.33, two thirds 6.67, rounded down), and so does what is drawn of what they share.
THREE = """
C1: clean bottles PET 1g
C2: clean bottles PET 1g
C3: clean bottles PET 1g
R1 shred C1.1 all, C2.1 all, C3.1 all -> flake 3g
R2 shred C1.2 1g, C2.2 1g, C3.2 1g -> flake 2983mg, ~dust 10mg
R3 dispatch R1.1 100mg
R4 discard R1.1 11mg
"""


def by_giver(told, key, column):
    rows = [total(table(report(told.actor, source=name), key))[column] for name in GIVERS]
    whole = total(table(report(told.actor), key))[column]
    assert sum(rows) == whole
    return rows


def test_three_givers_of_one_run_share_its_losses_to_the_milligram():
    told = tell(THREE.replace("1g\n", "1g, 1g\n"))
    assert by_giver(told, "statement", "dust_mg") == [3, 3, 4]
    assert by_giver(told, "statement", "unaccounted_mg") == [2, 2, 3]


def test_three_givers_of_one_lot_share_what_is_taken_of_it_to_the_milligram():
    told = tell(THREE.replace("1g\n", "1g, 1g\n"))
    assert by_giver(told, "statement", "dispatched_mg") == [33, 33, 34]
    assert by_giver(told, "statement", "discarded_mg") == [3, 4, 4]


# An extruder that is fed 110 mg on 31 January and 110 mg on 1 February, in one open run, of a lot
# of which two thirds are of C1, at 3 % moisture. Up to the month's end 106.7 mg are dry, 107 in
# whole; up to the end 213.4, 213: so February has 106. Of them C1 has 2/3, rounded down: 71 of
# 107 and 142 of 213, so 71 in each month; C2 has 36 of 107 and 71 of 213, so 36 and 35.
OVER_A_MONTHS_END = """
C1: clean bottles PET 2g
C2: clean bottles PET 1g
R1 shred C1.1 all, C2.1 all -> flake 3g
R2 dry R1.1 all -> dried flake 3g
open R3 extrude R2.1 110mg @560
R3 draws R2.1 110mg @570
R3 loses ~volatiles 5mg @571
close R3 -> filament 214mg @572
"""
JANUARY = date(2024, 1, 1), date(2024, 1, 31)
FEBRUARY = date(2024, 2, 1), date(2024, 2, 29)
BOTH = JANUARY[0], FEBRUARY[1]


@pytest.fixture
def over_a_months_end(db):
    told = tell(OVER_A_MONTHS_END)
    run = told.run("R2")
    noted = {"happened_at": run.ended_at, "written_at": run.ended_at}
    RunCheck.objects.create(run=run, key="moisture_after_percent", value="3.0", **noted)
    return told


@pytest.mark.parametrize(
    ("about", "melted"),
    [({}, [107, 106]), ({"source": GIVERS[0]}, [71, 71]), ({"source": GIVERS[1]}, [36, 35])],
)
def test_what_an_open_run_is_fed_on_both_sides_of_a_months_end_is_two_months(
    over_a_months_end, about, melted
):
    def months(period):
        document = report(over_a_months_end.actor, *period, **about)
        return [line["entered_the_melt_mg"] for line in lines(table(document, "months"))]

    assert months(BOTH) == melted
    assert [*months(JANUARY), *months(FEBRUARY)] == melted


@pytest.mark.parametrize(
    ("about", "inside", "lost"),
    [
        ({}, 110, {"volatiles_mg": 5, "unaccounted_mg": 1}),
        ({"source": GIVERS[0]}, 73, {"volatiles_mg": 3, "unaccounted_mg": 0}),
        ({"source": GIVERS[1]}, 37, {"volatiles_mg": 2, "unaccounted_mg": 1}),
    ],
)
def test_what_is_inside_at_a_months_end_is_what_the_next_month_begins_with(
    over_a_months_end, about, inside, lost
):
    """Of 110 mg C1 has 73 (two thirds, rounded down), of 5 mg 3, of 1 mg none."""
    actor = over_a_months_end.actor
    first, second, both = (
        total(table(report(actor, *period, **about), "statement"))
        for period in (JANUARY, FEBRUARY, BOTH)
    )
    assert first["in_process_mg"] == inside
    assert first["closing_mg"] + inside == second["opening_mg"]
    assert {key: second[key] for key in lost} == {key: both[key] for key in lost} == lost
    assert first["reclassified_mg"] + second["reclassified_mg"] == both["reclassified_mg"]


def test_what_is_drawn_on_both_sides_of_a_months_end_is_rounded_as_one_draw(db):
    """Two thirds of 200 mg are 133, rounded down; of 100 mg and of 100 mg they would be 132."""
    told = tell("""
    C1: bottles PET 2g
    C2: bottles PET 1g
    R1 sort C1.1 all, C2.1 all -> clean bottles 3g
    open R2 shred R1.1 100mg @560
    R2 draws R1.1 100mg @570
    close R2 -> flake 200mg @572
    """)
    fed = []
    for name in GIVERS[:2]:
        (line,) = [
            one
            for one in lines(table(report(told.actor, *BOTH, source=name), "yields"))
            if one["stage"] == "Shred"
        ]
        fed.append((line["target_mg"], line["product_mg"]))
    assert fed == [(133, 133), (67, 67)]


def test_months_have_names(over_a_months_end):
    document = report(over_a_months_end.actor, *BOTH)
    assert [line["month"] for line in lines(table(document, "months"))] == [
        "January 2024",
        "February 2024",
    ]
    with override("de"):
        document = report(over_a_months_end.actor, *BOTH)
    assert lines(table(document, "months"))[0]["month"] == "Januar 2024"


@pytest.mark.parametrize(
    ("mass_mg", "said"),
    [
        (14_336_300, "14.34 kg"),
        (3_788_747, "3.79 kg"),
        (168_554, "169 g"),
        (-1_999_999, "-2.00 kg"),
        (0, "0 g"),
    ],
)
def test_a_mass_in_a_sentence_is_rounded_not_cut_off(mass_mg, said):
    assert said_mass(mass_mg) == said
    with override("de"):
        assert said_mass(mass_mg) == said.replace(".", ",")
