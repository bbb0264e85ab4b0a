"""Whatever is typed wrong: said at its field, everything kept, nothing written."""

from __future__ import annotations

import re

import pytest

from recycling.queries.balance.balance import balance_now
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origins_page
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.lots.notes import HoldEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.lots.holds import hold_place
from recycling.services.runs.run_open import run_open
from recycling.services.runs.run_record import run_record
from tests.factories import KG, START
from tests.web.recording.conftest import form_of, text_of

MASSES = {
    "-5": "is not a mass",
    "0": "more than zero",
    "0 kg": "more than zero",
    "NaN": "is not a mass",
    "1_000": "is not a mass",
    "１２３": "is not a mass",
    "9223372036854775808": "No mass in the book is larger",
    "1e3": "is not a mass",
    "1.234": "needs its unit",
    "1,234 g": "read in two ways",
    "1.234.567 kg": "read in two ways",
    "5 stone": "is not a unit of mass",
    "9" * 60: "at most 40 characters",
}
MORNING = "2024-03-01T09:00"


def written(hand) -> int:
    return balance_now(hand.actor).sequence


def refused(hand, path: str, field: str, says: str, **typed: object) -> dict[str, list[str]]:
    """Send, and hold that nothing was written, the field is named, and what was typed is kept."""
    before = written(hand)
    answer = hand.send(path, hand.fill(path, **typed))
    page = answer.content.decode()
    assert answer.status_code == 422, text_of(answer)[:400]
    assert written(hand) == before
    assert "Nothing is recorded yet" in page and "autofocus" in page
    assert says in text_of(answer), text_of(answer)[:1500]
    if field:
        assert re.search(rf'href="#id_{field}(_0)?"', page), f"no link to {field}"
        assert re.search(rf'id="id_{field}(_0)?"', page), f"no field {field}"
    kept = form_of(answer)
    for name, value in typed.items():
        values = value if isinstance(value, list) else [str(value)]
        assert kept[name.replace("__", "-")] == values, f"{name} was lost"
    return kept


@pytest.mark.parametrize("typed, says", MASSES.items())
def test_a_mass_that_is_none(lead, typed, says):
    more = {"source": "North school", "bags__0__tare": "50"}
    refused(lead, "collections/new/", "bags-0-gross", says, bags__0__gross=typed, **more)


@pytest.mark.parametrize("typed, says", MASSES.items())
def test_a_drawn_mass_that_is_none(lead, bag, typed, says):
    draw = {"inputs__0__code": bag(), "inputs__0__mass": typed, "outputs__0__net": "1 kg"}
    refused(lead, "record/sort/", "inputs-0-mass", says, started_at=MORNING, **draw)


def test_a_tare_that_is_not_below_the_gross_mass(lead):
    typed = {"bags__0__gross": "500", "bags__0__tare": "500", "source": "North school"}
    refused(lead, "collections/new/", "bags-0-tare", "not below the gross", **typed)


def test_gross_tare_and_net_that_do_not_agree(lead):
    typed = {"bags__0__gross": "500", "bags__0__tare": "100", "bags__0__net": "350"}
    says = "Gross less tare is not the net mass"
    refused(lead, "collections/new/", "bags-0-gross", says, source="North school", **typed)


def test_a_bag_with_a_colour_but_no_mass(lead):
    typed = {"source": "North school", "bags__0__colour": "blue"}
    refused(lead, "collections/new/", "bags-0-gross", "Give gross and tare", **typed)


def test_no_bag_and_no_source(lead):
    refused(lead, "collections/new/", "source", "Say who gave it")


@pytest.mark.parametrize("count", ["1_0", "１２", "-3", "2.5", "many"])
def test_a_count_that_is_none(lead, count):
    typed = {"source": "North school", "bags__0__net": "1 kg", "bags__0__count": count}
    refused(lead, "collections/new/", "bags-0-count", "is not a whole number", **typed)


UNKNOWN = [("L999-X", "check character"), ("L77777-Y", ""), ("hello", "There is no lot")]


@pytest.mark.parametrize("code, says", UNKNOWN)
def test_a_lot_that_is_not_there(lead, bag, code, says):
    bag()
    typed = {"started_at": MORNING, "inputs__0__code": code, "inputs__0__all": "on"}
    refused(lead, "record/sort/", "inputs-0-code", says, outputs__0__net="1 kg", **typed)


def test_another_workshops_lot_is_not_there(lead, stranger, bag):
    from recycling.records.lots.origin_entries import BagEntry
    from tests.factories import OriginFactory

    for _ in range(3):
        made = OriginFactory(actor=stranger.actor, bags=(BagEntry(KG),)).lots[0].code
    typed = {"started_at": MORNING, "inputs__0__code": made, "inputs__0__all": "on"}
    says = f"There is no lot “{made}” in this workshop"
    refused(lead, "record/sort/", "inputs-0-code", says, outputs__0__net="1 kg", **typed)


def test_a_held_lot_says_that_it_is_held(lead, bag):
    lot = bag()
    hold_place(lead.actor, HoldEntry(lot, "smells of solvent"))
    typed = {"started_at": MORNING, "inputs__0__code": lot, "inputs__0__all": "on"}
    refused(lead, "record/sort/", "", "smells of solvent", outputs__0__net="1 kg", **typed)


def test_a_used_up_lot(lead, bag):
    lot = bag()
    draw = (DrawEntry(lot, all=True),)
    run_record(lead.actor, RunEntry("sort", START, START, inputs=draw))
    typed = {"started_at": MORNING, "inputs__0__code": lot, "inputs__0__all": "on"}
    says = "Nothing is left of lot"
    refused(lead, "record/sort/", "inputs-0-code", says, outputs__0__net="1 kg", **typed)


def test_more_than_is_there(lead, bag):
    typed = {"started_at": MORNING, "inputs__0__code": bag(), "inputs__0__mass": "6 kg"}
    says = "1.000 kg less than was entered. Was it all of it?"
    refused(lead, "record/sort/", "inputs-0-mass", says, outputs__0__net="1 kg", **typed)
    page = lead.send("record/sort/", lead.fill("record/sort/", outputs__0__net="1 kg", **typed))
    offered = re.search(r'name="instead" value="(inputs-0-mass=5 kg)"', page.content.decode())
    review = lead.send("record/sort/", form_of(page) | {"step": ["review"]}, instead=offered[1])
    assert review.status_code == 200 and "Nothing is recorded yet" in text_of(review)
    assert form_of(review)["inputs-0-mass"] == ["5 kg"]


def test_a_polymer_that_was_not_drawn(lead, bag):
    typed = {"started_at": MORNING, "inputs__0__code": bag(), "inputs__0__all": "on"}
    typed |= {"outputs__0__net": "4 kg", "outputs__0__polymer": "PP"}
    refused(lead, "record/sort/", "outputs-0-polymer", "are PET, not PP", **typed)


def test_a_mass_or_all_of_it_but_not_neither_and_not_both(lead, bag):
    lot = bag()
    typed = {"started_at": MORNING, "inputs__0__code": lot, "outputs__0__net": "1 kg"}
    refused(lead, "record/sort/", "inputs-0-mass", "Give a mass, or take all", **typed)
    typed |= {"inputs__0__all": "on", "inputs__0__mass": "1 kg"}
    refused(lead, "record/sort/", "inputs-0-mass", "not both", **typed)


def test_an_end_before_the_start(lead, bag):
    typed = {"started_at": MORNING, "ended_at": "2024-03-01T08:00", "inputs__0__all": "on"}
    refused(lead, "record/sort/", "ended_at", "before the start", inputs__0__code=bag(), **typed)


def test_a_time_still_to_come(lead):
    typed = {"source": "North school", "bags__0__net": "1 kg", "happened_at": "2190-01-01T10:00"}
    refused(lead, "collections/new/", "happened_at", "still to come", **typed)


def test_a_time_to_come_is_asked_about_before_anything_is_recorded(lead):
    typed = {"source": "North school", "bags__0__net": "1 kg", "happened_at": "2090-01-01T10:00"}
    form = lead.fill("collections/new/", **typed) | {"step": ["review"]}
    review = lead.send("collections/new/", form)
    assert "2090-01-01 10:00 is still to come." in text_of(review)
    assert 'name="confirmed" value="to-come:/happened_at:2090-01-01"' in review.content.decode()


@pytest.mark.parametrize(
    "when", ["yesterday", "2024-13-01T10:00", "2024-03-01", "2024-03-01T25:00"]
)
def test_a_time_that_is_none(lead, when):
    typed = {"source": "North school", "bags__0__net": "1 kg", "happened_at": when}
    refused(lead, "collections/new/", "happened_at", "is not a date and time", **typed)


def test_an_offset_is_not_for_pages(lead):
    typed = {"source": "North school", "happened_at": "2024-03-01T10:00+02:00"}
    refused(lead, "collections/new/", "happened_at", "is not a date and time", **typed)


def test_the_hour_that_does_not_exist(lead):
    """Lisbon's clocks went from 01:00 to 02:00 on 2024-03-31 (IANA tz database)."""
    typed = {"source": "North school", "bags__0__net": "1 kg", "happened_at": "2024-03-31T01:30"}
    refused(lead, "collections/new/", "happened_at", "does not exist", **typed)


@pytest.mark.parametrize("which, utc_hour", [("first", 0), ("second", 1)])
def test_the_hour_that_comes_twice_is_asked_for(lead, which, utc_hour):
    """Lisbon's clocks went from 02:00 back to 01:00 on 2024-10-27 (IANA tz database)."""
    typed = {"source": "North school", "bags__0__net": "1 kg", "happened_at": "2024-10-27T01:30"}
    form = refused(lead, "collections/new/", "happened_at_which", "Which of the two", **typed)
    answer = lead.send("collections/new/", lead.typed(form, happened_at_which=which))
    assert answer.status_code == 302
    origin = origins_page(lead.actor, kind="collection").rows[0]
    assert origin.happened_at.utctimetuple()[3:5] == (utc_hour, 30)


@pytest.mark.parametrize(
    "key, typed", [("moisture_before_percent", "120"), ("hours_at_temperature", "two")]
)
def test_a_check_out_of_bounds(lead, bag, key, typed):
    draw = {"started_at": MORNING, "inputs__0__code": bag("flake"), "inputs__0__all": "on"}
    value = {f"checks__{key}": typed, "outputs__0__net": "4 kg"}
    refused(lead, "record/dry/", f"checks-{key}", "a number from", **draw, **value)


def test_needed_checks_are_asked_for(lead, bag):
    typed = {"started_at": MORNING, "inputs__0__code": bag(), "inputs__0__all": "on"}
    refused(lead, "record/dispatch/", "checks-receiver", "is needed", **typed)


def test_a_reason_is_needed(lead, bag):
    posting = lot_page(lead.actor, bag()).postings[0].posting
    refused(lead, f"postings/{posting}/correct/", "reason", "required", mass="4 kg")
    refused(lead, f"lots/{bag()}/hold/", "reason", "required")


def test_a_correction_that_takes_a_lot_below_zero_says_which_and_why(lead, bag):
    lot = bag()
    draw = (DrawEntry(lot, mass_mg=4 * KG),)
    later = run_record(lead.actor, RunEntry("sort", START, START, inputs=draw))
    posting = lot_page(lead.actor, lot).postings[0].posting
    typed = {"mass": "3 kg", "reason": "scale was off"}
    refused(lead, f"postings/{posting}/correct/", "", f"Lot {lot} would be", **typed)
    refused(lead, f"postings/{posting}/correct/", "", f": {later.code} drew from it", **typed)


def test_a_void_under_runs_that_drew_on_it_lists_them(lead, bag):
    page = lead.recorded(
        "record/sort/",
        started_at=MORNING,
        ended_at="2024-03-01T10:00",
        inputs__0__code=bag(),
        inputs__0__all="on",
        outputs__0__net="4 kg",
    )
    run = re.search(r"R\d+-[0-9A-Z]", page)[0]
    clean = re.search(r"L\d+-[0-9A-Z]", page[page.index("<table") :])[0]
    later = run_open(
        lead.actor, RunEntry("wash", START.replace(month=4), inputs=(DrawEntry(clean, all=True),))
    )
    refused(lead, f"runs/{run}/void/", "", later.code, reason="twice")


def test_a_bad_verdict_names_what_was_wrong(lead, bag):
    lot = bag("filament")
    refused(lead, f"lots/{lot}/verdict/", "defects", "Say what was wrong", good="bad")
    typed = {"good": "good", "defects": ["brittle"]}
    refused(lead, f"lots/{lot}/verdict/", "defects", "has no defects", **typed)
    refused(lead, f"lots/{bag()}/verdict/", "", "filament is judged", good="good")


def test_what_moved_has_a_place(lead, bag):
    refused(lead, f"lots/{bag()}/event/", "place", "Say where it went", kind="moved")


def test_a_refill_needs_all_three(lead, bag):
    form = form_of(lead.send("record/extrude/", lead.fill("record/extrude/"), more="feeds"))
    lead.typed(form, inputs__0__code=bag("dried flake"), inputs__0__all="on", feeds__0__mass="100")
    answer = lead.send("record/extrude/", form)
    assert answer.status_code == 422 and "#id_feeds-0-at" in answer.content.decode()


def test_a_second_submit_of_one_form_records_once(lead):
    form = lead.fill("collections/new/", source="North school", bags__0__net="2 kg")
    first, again = (lead.send("collections/new/", form) for _ in range(2))
    assert first.url == again.url
    assert len(origins_page(lead.actor, kind="collection").rows) == 1


def test_a_second_submit_of_a_looked_over_run_records_once(lead, bag):
    lot = bag()
    typed = {"started_at": MORNING, "inputs__0__code": lot, "inputs__0__all": "on"}
    form = form_of(lead.send("record/sort/", lead.fill("record/sort/", **typed)))
    first, again = (lead.send("record/sort/", form, step="record") for _ in range(2))
    assert first.url == again.url and first.status_code == 302
    assert len(lot_page(lead.actor, lot).uses) == 1


def test_a_sent_page_with_other_figures_is_not_a_second_entry_unawares(lead):
    form = lead.fill("collections/new/", source="North school", bags__0__net="2 kg")
    lead.send("collections/new/", form)
    answer = lead.send("collections/new/", lead.typed(form, bags__0__net="3 kg"))
    assert answer.status_code == 409 and "recorded before" in text_of(answer)
    assert len(origins_page(lead.actor, kind="collection").rows) == 1
    kept = form_of(answer)
    assert kept["bags-0-net"] == ["3 kg"]
    assert lead.send("collections/new/", kept).status_code == 302, "sent again, it is an entry"
    assert len(origins_page(lead.actor, kind="collection").rows) == 2


def test_a_refused_page_may_be_sent_again_under_its_key(lead):
    form = lead.fill("collections/new/", bags__0__net="2 kg")
    kept = form_of(lead.send("collections/new/", form))
    assert kept["idempotency_key"] == form["idempotency_key"]
    assert lead.send("collections/new/", lead.typed(kept, source="North school")).status_code == 302


def test_a_page_without_its_key_is_refused(lead):
    form = lead.fill("collections/new/", source="North school", bags__0__net="2 kg")
    del form["idempotency_key"]
    answer = lead.send("collections/new/", form)
    assert answer.status_code == 422 and form_of(answer)["idempotency_key"] != [""]
    assert not origins_page(lead.actor, kind="collection").rows


def test_a_stale_page_of_a_run_that_was_closed_meanwhile(lead, bag):
    lot = bag("flake", 3 * KG)
    draw = (DrawEntry(lot, mass_mg=KG),)
    run = run_open(lead.actor, RunEntry("dry", START, inputs=draw)).code
    form = lead.fill(f"runs/{run}/output/", outputs__0__net="900 g")
    close = lead.fill(f"runs/{run}/close/")
    lead.send(f"runs/{run}/close/", close, step="record")
    answer = lead.send(f"runs/{run}/output/", form)
    assert answer.status_code == 409 and "is closed" in text_of(answer)
    assert form_of(answer)["outputs-0-net"] == ["900 g"]
    late = lead.open(f"runs/{run}/close/")
    assert late.status_code == 409 and "too late" in text_of(late)


def test_a_hold_that_was_released_meanwhile(lead, bag):
    hold = hold_place(lead.actor, HoldEntry(bag(), "wet")).holds[0]
    form = lead.fill(f"holds/{hold}/release/", reason="dry")
    assert lead.send(f"holds/{hold}/release/", form).status_code == 302
    other = lead.fill(f"holds/{hold}/release/", reason="dry too")
    assert lead.send(f"holds/{hold}/release/", other).status_code == 409


@pytest.mark.slow
def test_ten_thousand_rows_are_not_laid_out(lead):
    form = lead.fill("collections/new/", source="North school")
    lead.typed(form, bags__rows=",".join(["row"] * 10_000))
    form["more"] = ["bags"]
    page = lead.send("collections/new/", form).content.decode()
    assert page.count("Or the net mass") <= 200


def test_text_from_people_is_never_markup(lead):
    name = "<script>alert(1)</script>"
    lead.recorded("set-up/sources/", name=name, kind="shop")
    assert name not in lead.open("set-up/sources/").content.decode()
    assert name not in lead.open("collections/new/").content.decode()


def test_a_mass_from_no_lot(lead):
    typed = {"inputs__0__mass": "500 g", "outputs__0__net": "400 g", "started_at": MORNING}
    says = "Say which lot this mass is from."
    refused(lead, "record/sort/", "inputs-0-code", says, **typed)


def test_a_verdict_that_says_neither(lead, bag):
    path = f"lots/{bag()}/verdict/"
    refused(lead, path, "good", "Say whether it printed well", note="sat on the shelf")


def test_a_dispatch_is_shown_as_leaving_before_it_is_recorded(lead, bag):
    typed = {"inputs__0__code": bag(), "inputs__0__mass": "100 g", "started_at": MORNING}
    form = lead.fill("record/dispatch/", checks__receiver="Quay printers", **typed)
    before = written(lead)
    review = text_of(lead.send("record/dispatch/", form))
    assert written(lead) == before
    assert re.search(r"dispatched\s+0\.100\s+leaves the workshop", review), review
