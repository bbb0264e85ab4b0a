"""Facts by hand: the page holds what is, sends what was changed, and shows what it was."""

from __future__ import annotations

from recycling.models import Origin
from recycling.queries.runs.runs import run_page
from recycling.records.lots.changes import OriginChange
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.runs.entries import CheckEntry, RunEntry
from recycling.services.lots.facts import origin_change
from recycling.services.lots.origin_record import origin_record
from recycling.services.runs.run_record import run_record
from tests.factories import KG, START
from tests.web.recording.conftest import problems_of, text_of


def collected(lead) -> str:
    entry = OriginEntry("collection", START, (BagEntry(5 * KG),), source="North school")
    return origin_record(lead.actor, entry).code


def test_a_forgotten_programme_is_found_and_mended(lead):
    code = collected(lead)
    page = lead.open(f"collections/{code}/")
    assert f'href="/w/quay/collections/{code}/facts/"' in page.content.decode()
    said = lead.recorded(f"collections/{code}/facts/", programme="Clean quay", reason="forgot")
    assert "Put right." in said
    words = text_of(lead.open(f"collections/{code}/"))
    assert "What was changed" in words and "Programme – Clean quay forgot" in words
    assert Origin.objects.get(code=code).note == ""


def test_what_somebody_else_changed_meanwhile_is_not_overwritten(lead):
    code = collected(lead)
    form = lead.fill(f"collections/{code}/facts/", programme="Clean quay", reason="forgot")
    origin_change(lead.actor, code, OriginChange(reason="saw it", note="wet"))
    answer = lead.send(f"collections/{code}/facts/", form)
    assert answer.status_code == 422
    assert "Somebody changed this meanwhile" in problems_of(answer)
    assert Origin.objects.get(code=code).programme is None


def test_a_lot_was_another_form(lead, bag):
    lot = bag()
    path = f"lots/{lot}/facts/"
    typed = lead.fill(path, count="120", reason="opened it") | {"form": ["caps"]}
    assert lead.send(path, typed).status_code == 302
    words = text_of(lead.open(f"lots/{lot}/"))
    assert "What it is bottles caps opened it" in words and "Pieces – 120" in words


def test_a_run_says_another_receiver(lead, bag):
    lot = bag()
    entry = RunEntry(
        "dispatch",
        START,
        START,
        inputs=(DrawEntry(lot, mass_mg=KG),),
        checks=(CheckEntry("receiver", "Harbour shop"), CheckEntry("document", "12")),
    )
    code = run_record(lead.actor, entry).code
    noted = {one.key: one.noted for one in run_page(lead.actor, code).checks}
    path = f"runs/{code}/facts/"
    typed = {f"checks-{noted['receiver']}-value": "Harbour makers", "reason": "wrong line"}
    lead.recorded(path, **typed)
    record = run_page(lead.actor, code)
    assert {one.key: one.value for one in record.checks}["receiver"] == "Harbour makers"
    assert "Receiver Harbour shop Harbour makers wrong line" in text_of(lead.open(f"runs/{code}/"))
    out = {f"checks-{noted['document']}-out": "on", "reason": "none was given"}
    lead.recorded(path, **out)
    assert [one.key for one in run_page(lead.actor, code).checks] == ["receiver"]


def test_a_refusal_stands_at_its_field_and_keeps_what_was_typed(lead, bag):
    lot = bag()
    answer = lead.record(f"lots/{lot}/facts/", colour="x" * 41, reason="why")
    assert answer.status_code == 422 and "Keep this within 40 characters" in problems_of(answer)
    assert "x" * 41 in answer.content.decode()


def test_a_viewer_sees_the_history_and_no_button(lead, viewer):
    code = collected(lead)
    origin_change(lead.actor, code, OriginChange(reason="saw it", note="wet"))
    page = viewer.open(f"collections/{code}/")
    assert "saw it" in text_of(page) and "/facts/" not in page.content.decode()
    assert viewer.open(f"collections/{code}/facts/").status_code == 403
