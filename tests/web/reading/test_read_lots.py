"""A lot's page: what it is, who is in it, what it went into, and its lineage."""

from __future__ import annotations

from decimal import Decimal

from recycling.records.runs.entries import CorrectionEntry
from recycling.services.runs.corrections import posting_correct
from tests.web.reading.reading_pages import csv_of, milligrams, table_of, text_of


def test_a_spool_leads_to_its_source_collections_in_one_click(book, page):
    spool = book.codes["extrude first filament"]
    assert f'href="/w/quay/lots/{spool}/#origins"' in page("spools/").content.decode()
    answer = page(f"lots/{spool}/").content.decode()
    assert 'id="origins"' in answer
    for name in ("school", "quay"):
        assert f'href="/w/quay/collections/{book.codes[name]}/"' in answer
    assert f"/w/quay/collections/{book.codes['late']}/" not in answer


def test_the_origins_of_a_spool_are_what_mixing_gives_and_add_up_exactly(book, page):
    """4.0 kg of one and 3.0 kg of another were sorted together: four sevenths and three."""
    spool = book.codes["extrude first filament"]
    rows = csv_of(page(f"lots/{spool}/", format="csv", table="origins"))
    masses = {row["origin"]: milligrams(row["mass, kg"]) for row in rows}
    assert sum(masses.values()) == 1_000_000
    assert masses[book.codes["school"]] in (571_428, 571_429)
    shares = sum(Decimal(row["share"]) for row in rows)
    assert abs(shares - 1) < Decimal("0.00000001")


def test_the_page_shows_the_same_shares_and_the_chain_of_custody(book, page):
    answer = page(f"lots/{book.codes['extrude first filament']}/")
    rows = table_of(answer, "Origins, the largest part first")
    assert rows[1][:4] == [book.codes["school"], "North school", "571.429", "57.1 %"]
    assert rows[-1][:3] == ["Mass as made", "1000.000", "100 %"]
    words = text_of(answer)
    assert "segregated" in words and "ISO 22095" in words and "well mixed" in words
    assert answer.content.decode().count("<svg") > 3


def test_a_bag_is_identity_preserved(book, page):
    words = text_of(page(f"lots/{book.codes['late bag 1']}/"))
    assert "identity preserved" in words
    assert f"All of it is from {book.codes['late']}, North school." in words


def test_from_a_lot_that_was_scanned_the_work_begins_with_it_chosen(book, page):
    bag = book.codes["late bag 1"]
    body = page(f"lots/{bag}/").content.decode()
    for stage in ("sort", "dispatch", "discard"):
        assert f'href="/w/quay/record/{stage}/?lot={bag}"' in body
    assert "record/count/" not in body, "to count it has a button of its own"
    used = book.codes["school bag 1"]
    assert f"?lot={used}" not in page(f"lots/{used}/").content.decode().partition("exports/")[0]


def test_a_spool_says_what_it_is_and_what_it_is_not_for(book, page):
    words = text_of(page(f"lots/{book.codes['extrude first filament']}/"))
    for piece in (
        "1.750 ± 0.050 mm",
        "Empty spool 210 g",
        "never for food contact",
        "bad : brittle “snaps on the reel”",
        "opened : shelf 3".replace(" :", ":"),
        "not measured",
    ):
        assert piece in words, piece


def test_a_hold_that_spreads_is_shown_with_where_it_comes_from(book, page):
    words = text_of(page(f"lots/{book.codes['extrude first filament']}/"))
    assert f"Held because it descends from {book.codes['quay bag 1']}" in words
    assert "smells of fuel" in words


def test_what_a_lot_went_into_is_listed(book, page):
    rows = table_of(page(f"lots/{book.codes['dry dried flake']}/"), "What it went into")
    assert rows[1][:4] == [book.codes["extrude"], "Extrude", "closed", "4.000"]


def test_a_corrected_figure_shows_the_old_one_and_why(book, page):
    rows = table_of(page(f"lots/{book.codes['shred flake']}/"), "Postings on this lot")
    first, correction = rows[1], rows[2]
    assert first[2] == "+6.000000 +6.010000"
    assert correction[0].endswith("corrected")
    assert correction[2] == "+0.010000" and correction[5] == "read upside down"


def test_a_correction_of_a_correction_stands_under_the_same_figure(book, page):
    flake = book.codes["shred flake"]
    rows = csv_of(page(f"lots/{flake}/", format="csv", table="postings"))
    root = rows[0]["posting"]
    posting_correct(book.actor, CorrectionEntry(int(root), 6_005_000, "scale had drifted"))
    rows = table_of(page(f"lots/{flake}/"), "Postings on this lot")
    assert rows[1][2] == "+6.000000 +6.005000"
    assert [row[5] for row in rows[2:4]] == ["read upside down", "scale had drifted"]


def test_figures_that_follow_from_others_cannot_be_corrected_here(book, page):
    answer = page(f"runs/{book.codes['shred']}/")
    rows = table_of(answer, "Postings of this run")
    offered = {row[1] for row in rows[1:] if row[5] == "correct"}
    drawn, given = book.codes["sort clean bottles"], ("flake", "oversize", "fines")
    assert offered == {drawn, *(book.codes[f"shred {form}"] for form in given), "dust, PET"}
    assert "unaccounted, PET" in {row[1] for row in rows}


def test_the_lineage_is_drawn_and_said_as_a_table(book, page):
    spool = book.codes["extrude first filament"]
    answer = page(f"lots/{spool}/lineage/")
    html = answer.content.decode()
    assert 'class="drawing lineage"' in html
    drawn = html.split('class="drawing lineage"')[1].split("</svg>")[0]
    for name in ("school bag 1", "quay bag 1", "sort", "shred", "dry", "extrude"):
        assert f"/{book.codes[name]}/" in drawn, name
    assert "6 lots through 6 runs, from 2 origins." in text_of(answer)
    rows = table_of(answer, "The same as a table, run by run")
    assert [row[0].split()[-1] for row in rows[1:]] == [
        "Receive",
        "Receive",
        "Sort",
        "Shred",
        "Dry",
        "Extrude",
    ]


def test_the_direction_of_a_lineage_can_be_chosen(book, page):
    flake = book.codes["shred flake"]
    back = csv_of(page(f"lots/{flake}/lineage/", direction="ancestors", format="csv"))
    forth = csv_of(page(f"lots/{flake}/lineage/", direction="descendants", format="csv"))
    both = csv_of(page(f"lots/{flake}/lineage/", direction="sideways", format="csv"))
    assert {row["stage"] for row in back} == {"receive", "sort", "shred"}
    assert {row["stage"] for row in forth} == {"dry", "extrude"}
    assert len(both) == len(back) + len(forth)


def test_stock_adds_up_and_its_lots_are_found(book, page):
    answer = page("stock/")
    rows = table_of(answer, "By form and polymer")
    sums = {row[0]: row[-3] for row in rows[1:] if len(row) >= 4}
    forms = [Decimal(row[2]) for row in rows[1:] if len(row) == 5 and row[4]]
    assert sum(forms) == Decimal(sums["On hand"])
    assert Decimal(sums["On hand and in process"]) == Decimal(sums["On hand"]) + Decimal("2.5")
    found = table_of(page("stock/", form="caps"), "Lots, the newest first")
    caps = book.codes["sort caps"]
    assert [row[:2] for row in found[1:]] == [[f"Label of {caps}", f"{caps} caps"]]


def test_lots_are_filtered_by_state_text_and_origin(book, page):
    def lots(**query: str) -> set[str]:
        return {row["lot"] for row in csv_of(page("stock/", format="csv", table="lots", **query))}

    bag = book.codes["school bag 1"]
    assert bag not in lots()
    assert bag in lots(state="used up") and bag in lots(state="any")
    assert lots(state="any", text=bag.lower()) == {bag}
    assert lots(state="any", origin=book.codes["late"]) == {book.codes["late bag 1"]}
    assert book.codes["sort caps"] in lots(state="held")
    assert lots(form="no such form") == lots()


def test_a_long_list_is_paged_without_a_gap_and_exported_whole(book, page, monkeypatch):
    monkeypatch.setattr("recycling.web.lots.stock.EXPORT_LIMIT", 20)
    for hour in range(30):
        book.collect("more", "North school", 40 + hour, 500_000, 600_000)
    whole = [row["lot"] for row in csv_of(page("stock/", format="csv", table="lots"))]
    walked, address = [], "stock/"
    for _ in range(5):
        html = page(address).content.decode()
        rows = table_of(page(address), "Lots, the newest first")
        walked += [row[1].split()[0] for row in rows[1:]]
        if 'rel="next"' not in html:
            break
        address = html.split('rel="next" href="/w/quay/')[1].split('"')[0]
    assert walked == whole and len(whole) == len(set(whole)) > 60
