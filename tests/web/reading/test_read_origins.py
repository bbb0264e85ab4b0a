"""Collections: the list, and what became of every gram."""

from __future__ import annotations

from decimal import Decimal

from tests.web.reading.reading_pages import csv_of, milligrams, table_of, text_of


def test_what_became_of_a_collection_adds_up_to_the_milligram(book, page):
    for name, mass_mg in (("school", 6_500_000), ("quay", 3_000_000), ("late", 1_200_000)):
        code = book.codes[name]
        rows = csv_of(page(f"collections/{code}/", format="csv", table="fate"))
        assert sum(milligrams(row["mass, kg"]) for row in rows) == mass_mg
        assert "all that came in, to the milligram" in text_of(page(f"collections/{code}/"))


def test_every_place_of_a_collection_is_named(book, page):
    rows = table_of(page(f"collections/{book.codes['school']}/"), "Where it is now")
    places = {row[0]: row[1] for row in rows[1:]}
    for place in ("in spools", "in side streams", "in process", "residue", "dust", "unaccounted"):
        assert Decimal(places[place]) > 0, place
    assert places["In all"] == "6500.000"


def test_a_collection_leads_to_each_of_its_spools_in_one_click(book, page):
    answer = page(f"collections/{book.codes['quay']}/")
    rows = table_of(answer, "3 spools made of it")
    assert len(rows) == 4 and rows[1][1:3] == ["428.571", "42.9 %"]
    assert f'href="/w/quay/lots/{book.codes["extrude first filament"]}/"' in (
        answer.content.decode()
    )
    assert "No spool is made of it yet." in text_of(page(f"collections/{book.codes['late']}/"))


def test_a_collection_says_who_gave_it_and_whether_they_may_be_named(book, page):
    words = text_of(page(f"collections/{book.codes['school']}/"))
    assert "North school may be named in public" in words
    assert "Received by Inês" in words and "Clean quay" in words
    assert "not to be named in public" in text_of(page(f"collections/{book.codes['quay']}/"))


def test_collections_are_filtered_and_exported(book, page):
    rows = csv_of(page("collections/", format="csv", source="North school"))
    assert [row["code"] for row in rows] == [book.codes["late"], book.codes["school"]]
    assert milligrams(rows[1]["mass, kg"]) == 6_500_000
    assert csv_of(page("collections/", format="csv", kind="purchase")) == []
    assert "No collection is like that" in text_of(page("collections/", text="zebra"))


def test_a_cell_that_a_spreadsheet_would_run_is_made_harmless(book, page):
    row = next(
        row
        for row in csv_of(page("collections/", format="csv"))
        if row["code"] == book.codes["quay"]
    )
    assert row["source"] == "'=Bin by the quay"
