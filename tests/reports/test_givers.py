"""What a report tells one giver: its part of spools in feed order, and thanks on one page."""

from __future__ import annotations

from datetime import timedelta

import pytest

from recycling.records.lots.mass_entries import DrawEntry, HeelEntry, OutputEntry
from recycling.records.reports.question import THANKS
from recycling.records.runs.entries import FeedEntry, RunEntry
from recycling.services.runs.run_record import run_record
from tests.factories import KG, G
from tests.histories import tell
from tests.queries.passing import all_within
from tests.queries.reported import FATES, FIRST, fact, lines, report, table, texts, total

pytestmark = pytest.mark.django_db


# Worked example of feed order: heel 60 g of O; A 400 g, then B 600 g; scrap 150 g, spools of 500
# and 340 g, 10 g lost, heel 60 g. In the scrap 94.925 g of A; in the spools 300.206 and 0.866 g of
# A, 194.870 and 339.133 g of B. Source: the page of methods, section 4, by stepping small parcels.
@pytest.fixture
def in_feed_order(db):
    told = tell("O1: heel PET 60g in extruder\nC1: pellets PET 400g\nC2: pellets PET 600g")
    at = told.now + timedelta(hours=1)
    first, second = told.code("C1.1"), told.code("C2.1")
    entry = RunEntry(
        "extrude",
        at,
        at + timedelta(hours=5),
        machine="extruder",
        inputs=(DrawEntry(second, 600 * G), DrawEntry(first, 400 * G)),
        feeds=(
            FeedEntry(at + timedelta(minutes=1), first, 400 * G),
            FeedEntry(at + timedelta(minutes=90), second, 600 * G),
        ),
        outputs=(
            OutputEntry("start-up scrap", 150 * G),
            OutputEntry("filament", 500 * G),
            OutputEntry("filament", 340 * G),
        ),
        heel=HeelEntry(60 * G),
        composition_model="feed order",
    )
    run_record(told.actor, entry)
    return all_within(told)


def test_a_givers_part_of_spools_follows_the_order_of_feeding(in_feed_order):
    made = {}
    for name in ("C1", "C2"):
        document = report(in_feed_order.actor, source=f"Source of {name}")
        counters = {line["counter"]: line for line in lines(table(document, "counters"))}
        made[name] = counters["Good product"]["mass_mg"]
        if name == "C1":
            (scrap,) = lines(table(document, "waste"))
            assert scrap["made_mg"] == pytest.approx(94_925, abs=1)
    assert made["C1"] == pytest.approx(300_206 + 866, abs=1)
    assert made["C2"] == pytest.approx(194_870 + 339_133, abs=1)


def test_what_is_lost_in_feed_order_is_the_givers_own_loss(in_feed_order):
    """What a giver put in and is in no lot is lost, not a matter of rounding."""
    lost = {}
    for name, given in (("C1", 400 * G), ("C2", 600 * G)):
        whole = total(table(report(in_feed_order.actor, source=f"Source of {name}"), "statement"))
        assert abs(whole["reclassified_mg"]) <= 5
        assert whole["received_mg"] == given
        lost[name] = whole["unaccounted_mg"]
        assert given - whole["closing_mg"] == pytest.approx(lost[name], abs=5)
    assert lost["C2"] > lost["C1"] > 0
    whole = total(table(report(in_feed_order.actor), "statement"))
    assert whole["unaccounted_mg"] == 10 * G


GIVEN = """
C1: bottles PET 6kg, 1kg
C2: bottles PET 2kg
R1 sort C1.1 all, C2.1 all -> clean bottles 7kg, caps HDPE 500g, reject 400g
R2 shred R1.1 all -> flake 6.9kg, ~dust 40g
R3 dry R2.1 all -> dried flake 6.9kg
R4 extrude R3.1 4kg -> filament 1kg spool, filament 2.8kg spool
R5 dispatch R4.1 all
R6 discard R1.3 all
"""


def test_thanks_say_on_one_page_what_was_given_and_what_became_of_it(db):
    told = tell(GIVEN)
    document = report(told.actor, kind=THANKS, source="Source of C1")
    (section,) = document.sections
    assert document.title == "Thank you, Source of C1"
    assert len(section.drawings) == 1
    assert fact(document, "collected_mg").value == 7 * KG
    parts = [line["part_mg"] for line in lines(table(document, "spools"))]
    assert parts == [2.1 * KG, 0.75 * KG]
    assert total(table(document, "spools"))["part_mg"] == fact(document, "filament_mg").value
    said = texts(document)
    assert "you brought 7.00 kg in 1 collection" in said
    assert "We cannot say where" in said
    assert "1.00 kg still waits to be worked" in said


def told_of(document):
    """What was there and came in, and what became of it; they must be the same."""
    found = {key: fact(document, key).value for key in ("opening_mg", "collected_mg", *FATES)}
    came = found["opening_mg"] + found["collected_mg"]
    assert sum(found[key] for key in FATES) == came
    return found


def test_what_the_thanks_count_adds_up_to_what_was_given_exactly(db):
    told = tell(GIVEN)
    found = told_of(report(told.actor, kind=THANKS, source="Source of C1"))
    assert (found["opening_mg"], found["collected_mg"]) == (0, 7 * KG)
    assert found["discarded_mg"] == 300 * G
    assert abs(found["rounding_mg"]) <= 20


def test_waste_in_stock_is_told_apart_from_what_is_on_its_way(db):
    told = tell("""
    C1: bottles PET 6kg
    R1 sort C1.1 5kg -> clean bottles 4kg, caps HDPE 200g, reject 762g
    R2 shred R1.1 all -> flake 3.9kg, fines 80g
    R3 discard R1.3 42g
    """)
    document = report(told.actor, kind=THANKS, source="Source of C1")
    found = told_of(document)
    assert (found["stock_mg"], found["waste_mg"]) == (4900 * G, 800 * G)
    assert (found["discarded_mg"], found["side_mg"]) == (42 * G, 200 * G)
    said = texts(document)
    assert "1.00 kg still waits to be worked, 3.90 kg is on its way to become something" in said
    assert "800 g is waste not yet given away, and 42 g was discarded" in said


# 4 kg of C1 and 2 kg of C2 come in in the first week and are sorted to 5.4 kg of clean bottles and
# 600 g of caps: 3.6 and 0.4 kg of C1. In the second week 2.7 kg become 2.4 kg of filament and 60 g
# of dust; the rest of 240 g is scrap. C1 has two thirds of each, and gives nothing new.
TWO_WEEKS = """
C1: bottles PET 4kg @1
C2: bottles PET 2kg @2
R1 sort C1.1 all, C2.1 all -> clean bottles 5400g, caps HDPE 600g @3
R2 shred R1.1 2700g -> flake 2640g, ~dust 60g @200
R3 dry R2.1 all -> dried flake 2640g @201
R4 extrude R3.1 all -> filament 900g spool, filament 1500g spool, start-up scrap 240g @202
R5 dispatch R4.1 all @203
R6 dispatch R1.2 150g @204
R7 dispatch R1.1 300g @205
"""


def test_a_gift_of_one_period_that_becomes_a_spool_in_the_next_is_told_of_in_both(db):
    told = tell(TWO_WEEKS)
    first, second = FIRST, FIRST + timedelta(days=7)
    asked = {"kind": THANKS, "source": "Source of C1"}
    before = told_of(report(told.actor, first, second - timedelta(days=1), **asked))
    assert (before["opening_mg"], before["collected_mg"]) == (0, 4 * KG)
    assert (before["stock_mg"], before["side_mg"], before["filament_mg"]) == (3600 * G, 400 * G, 0)

    document = report(told.actor, second, second + timedelta(days=6), **asked)
    after = told_of(document)
    assert (after["opening_mg"], after["collected_mg"]) == (4 * KG, 0)
    assert after["filament_mg"] == 1600 * G
    assert after["side_mg"] == 400 * G
    assert after["handed_on_mg"] == 200 * G
    assert (after["stock_mg"], after["waste_mg"]) == (1600 * G, 160 * G)
    assert after["lost_mg"] == 40 * G
    assert (after["discarded_mg"], after["unaccounted_mg"], after["rounding_mg"]) == (0, 0, 0)
    said = texts(document)
    assert "Nothing was handed over in this period; this is what became of earlier" in said
    assert "4.00 kg of what you had brought before was still here when the period began" in said
    assert "1.60 kg of yours is filament for 3D printing, of which 600 g was given out" in said
    assert "200 g was handed on as it was" in said
    assert [line["part_mg"] for line in lines(table(document, "spools"))] == [1 * KG, 600 * G]


def test_many_spools_stay_on_one_page(db):
    spools = ", ".join(["filament 100g spool"] * 20)
    told = tell(f"""
    C1: pellets PET 3kg
    R1 extrude C1.1 2kg -> {spools}
    """)
    rows = lines(table(report(told.actor, kind=THANKS, source="Source of C1"), "spools"))
    assert len(rows) == 13
    assert rows[-1]["spool"] == "8 other spools"
    assert sum(row["part_mg"] for row in rows) == 2 * KG
