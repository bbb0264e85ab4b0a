"""What enters the melt is counted once: own scrap and heels that go round are not new.

Every number is worked out by hand in the test that uses it; there is no published example.
"""

from __future__ import annotations

import pytest

from tests.factories import KG, G
from tests.histories import tell
from tests.queries.passing import all_within
from tests.queries.reported import lines, report, table

pytestmark = pytest.mark.django_db

MELT, PRODUCT = "Entered the melt, dry", "Good product"
ROUND = """
C1: bottles PET 5kg
R1 shred C1.1 all -> flake 5kg
R2 dry R1.1 all -> dried flake 5kg
R3 extrude R2.1 all -> filament 4kg spool, start-up scrap 900g, heel 100g
R4 shred R3.2 all -> flake 880g, ~dust 20g
R5 dry R4.1 all -> dried flake 880g
R6 extrude R5.1 all -> filament 950g spool, heel 30g
"""


def counters(told, **about):
    return {line["counter"]: line for line in lines(table(report(told.actor, **about), "counters"))}


def melted(told, **about):
    line = counters(told, **about)[MELT]
    return line["mass_mg"], line["other_mg"]


def test_scrap_that_is_shredded_and_fed_again_with_the_heel_is_not_counted_again():
    """5 kg of bottles were melted, once; 880 g of scrap and 100 g of heel went round."""
    told = all_within(tell(ROUND.replace("C1: bottles", "C1: clean bottles")))
    assert melted(told) == (5 * KG, 0)
    assert counters(told)[PRODUCT]["mass_mg"] == 4950 * G
    (line,) = [
        one
        for one in lines(table(report(told.actor), "counters_by_polymer"))
        if one["counter"] == MELT
    ]
    assert (line["polymer"], line["mass_mg"]) == ("PET", 5 * KG)


MIXED = """
C1: clean bottles PET 2kg
C2: clean bottles PET 1kg
R1 shred C1.1 all -> flake 2kg
R2 dry R1.1 all -> dried flake 2kg
R3 extrude R2.1 all -> filament 1kg spool, start-up scrap 1kg
R4 shred R3.2 all -> flake 1kg
R5 shred C2.1 all -> flake 1kg
R6 blend R4.1 all, R5.1 all -> flake 2kg
R7 dry R6.1 all -> dried flake 2kg
R8 extrude R7.1 1333333mg -> filament 1333333mg spool
"""


def test_of_reground_scrap_and_new_flake_half_and_half_only_the_new_half_is_counted():
    """C1 was melted before, 2 kg; of 1 333 333 mg half is C2's and new, rounded down."""
    told = tell(MIXED)
    assert melted(told) == (2 * KG + 666_666, 0)
    assert melted(told, source="Source of C1") == (2 * KG, 0)
    assert melted(told, source="Source of C2") == (666_666, 0)


def test_what_is_mixed_and_melted_twice_is_new_only_once():
    """The rest of the mixture, 666 667 mg, goes in with 333 333 mg of the scrap of both.

    Of the first draw 666 666 mg are new, of the second 333 333 mg: each is rounded down.
    """
    given = "filament 1kg spool, offcuts 333333mg"
    told = tell(MIXED.replace("filament 1333333mg spool", given))
    told.tell("""
    R9 shred R8.2 all -> flake 333333mg
    R10 dry R9.1 all -> dried flake 333333mg
    R11 extrude R7.1 all, R10.1 all -> filament 1kg spool
    """)
    assert melted(told) == (2 * KG + 999_999, 0)
    assert melted(told, source="Source of C1") == (2 * KG, 0)
    assert melted(told, source="Source of C2") == (999_999, 0)


def test_bought_pellets_are_new_once_and_stand_apart():
    """Of 1 kg of bottles and 1 kg of pellets, 500 g of scrap holds half each and is not new."""
    told = tell("""
    C1: clean bottles PET 1kg
    P1: pellets PET 1kg
    R1 shred C1.1 all -> flake 1kg
    R2 dry R1.1 all -> dried flake 1kg
    R3 extrude R2.1 all, P1.1 all -> filament 1500g spool, offcuts 500g
    R4 shred R3.2 all -> flake 500g
    R5 dry R4.1 all -> dried flake 500g
    R6 extrude R5.1 all -> filament 500g spool
    """)
    assert melted(told) == (1 * KG, 1 * KG)


@pytest.mark.parametrize("came", ["O1", "P1"], ids=["counted in", "bought with the machine"])
def test_a_heel_and_scrap_from_before_the_book_are_not_new(came):
    told = tell(f"""
    {came}: heel PET 60g in extruder
    O2: start-up scrap PET 200g
    C1: clean bottles PET 1kg
    R1 shred C1.1 all, O2.1 all -> flake 1200g
    R2 dry R1.1 all -> dried flake 1200g
    R3 extrude R2.1 all -> filament 1200g spool, heel 60g
    """)
    assert melted(told) == (1 * KG, 0)


def test_a_corrected_draw_changes_what_is_new_of_all_that_follows():
    """Only 600 g of new flake went in, with 1 kg of scrap: 3/8 of 1 600 g, and of what is fed."""
    told = tell(MIXED.replace("1333333mg", "800g"))
    assert melted(told) == (2 * KG + 400 * G, 0)
    told.tell("""
    correct R7 draw R6.1 1600g
    correct R7 gave R7.1 1600g
    correct R6 gave R6.1 1600g
    correct R6 draw R5.1 600g
    """)
    assert melted(told) == (2 * KG + 300 * G, 0)


def test_a_voided_run_melted_nothing():
    told = tell(MIXED)
    told.tell("void R8")
    assert melted(told) == (2 * KG, 0)


def test_moisture_is_taken_off_before_the_share_that_is_new():
    """1 kg at 3 % is 970 g dry, of which half is new: 485 g."""
    told = tell(MIXED.replace("1333333mg", "1kg"))
    run = told.run("R7")
    run.checks.create(
        key="moisture_after_percent",
        value="3.0",
        happened_at=run.ended_at,
        written_at=run.ended_at,
    )
    assert melted(told, source="Source of C2") == (485 * G, 0)
