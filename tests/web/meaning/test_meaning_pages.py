"""Pages that say what figures mean: what they show, their CSV, their forms, and bad input."""

from __future__ import annotations

import re

import pytest

from recycling.models import BottleSample, Job
from recycling.queries.integrity.audit import audit
from recycling.services.balance.reconciliation import reconciliation_run
from tests.factories import WorkshopFactory
from tests.web.meaning.conftest import DAYS
from tests.web.reading.reading_pages import csv_of, table_of, text_of


def test_runs_to_look_at_come_worst_first_with_one_click_to_the_form(told, page):
    told.tell("R9 shred R1.1 400g -> flake 100g")
    answer = page("closures/", **DAYS)
    rows = table_of(answer, "Runs by how they balance, the worst first")
    assert told.code("R9") in rows[1][0]
    assert "check it" in rows[1][1]
    assert "unaccounted of 400 g" in rows[1][1]
    posting = told.posting("R9", lot="R1.1")
    assert f"/postings/{posting}/correct/" in answer.content.decode()
    exported = csv_of(page("closures/", format="csv", state="any", **DAYS))
    assert exported[0]["run"] == told.code("R9")
    assert len(exported) == 6


def test_a_forgotten_tare_is_named(told, page):
    told.tell("R9 shred R1.1 500g -> flake 1700g")
    text = text_of(page("closures/", stage="shred", **DAYS))
    assert "perhaps blue crate was not taken off. 500 g instead of 1.700 kg." in text
    assert "gain" in text


def test_one_click_proposes_the_figure_without_the_slip(told, page, send):
    told.tell("R9 shred R1.1 500g -> flake 1700g")
    content = page("closures/", stage="shred", **DAYS).content.decode()
    _questions, content = content.split("<caption>Runs by how they balance")
    address, likely = re.findall(r"/(postings/\d+/correct/)\?likely=(\d+)", content)[0]
    assert address == f"postings/{told.posting('R9', lot='R9.1')}/correct/" and likely == "500000"
    assert 'value="500 g"' in mass_field(page(address, likely=likely))
    for broken in ("12x", "-5", "9" * 40, "\u0661\u0662", ""):
        assert "value=" not in mass_field(page(address, likely=broken))
    send(address, mass="500 g", reason="The crate was not taken off.")
    rows = csv_of(page("closures/", format="csv", stage="shred", state="any", **DAYS))
    (put_right,) = [row for row in rows if row["run"] == told.code("R9")]
    assert (put_right["state"], put_right["likely slip"]) == ("closed within weighing", "")


def mass_field(answer):
    (field,) = re.findall(r'<input[^>]*name="mass"[^>]*>', answer.content.decode())
    return field


def test_a_filter_leaves_the_rest_out(told, page):
    rows = csv_of(page("closures/", format="csv", state="closed within weighing", **DAYS))
    assert {row["state"] for row in rows} <= {"closed within weighing"}
    assert "No run is like that" in text_of(page("closures/", stage="blend", **DAYS))


def test_a_period_that_cannot_be_used_is_said_on_every_page(page):
    for address in ("closures/", "weighing/", "yields/"):
        text = text_of(page(address, 422, **{"from": "yesterday", "to": DAYS["to"]}))
        assert "This is no day of the calendar" in text


def test_weighing_totals_apart_and_lists_what_to_doubt(told, page):
    answer = page("weighing/", **DAYS)
    rows = table_of(answer, "How masses became known")
    assert rows[1][:2] == ["came in", "weighed"]
    assert any("estimated" in row for row in rows)
    assert "No weighing of this period is to doubt" in text_of(answer)


def test_a_sample_of_bottles_is_weighed_and_counted_with(told, page, send):
    bad = send("weighing/samples/new/", 422, name="half litre", masses="24 g")
    assert "Weigh from 2 to 200 bottles" in text_of(bad)
    worse = send("weighing/samples/new/", 422, name="half litre", masses="24 g\nheavy")
    assert "is not a mass" in text_of(worse)
    done = send(
        "weighing/samples/new/",
        name="half litre",
        masses="24 g\n26 g\n25 g\n25 g",
        scale="bench",
        note="clear",
    )
    assert "one weighs 25.0 g on average" in text_of(done).replace("\u00a0", " ")
    sample = BottleSample.objects.get()
    text = text_of(page("weighing/", sample=str(sample.pk), count="100"))
    assert "100 bottles of “half litre” weigh" in text
    assert "2.500 kg" in text.replace("\u00a0", " ")
    assert "Type a whole number" in text_of(page("weighing/", sample=str(sample.pk), count="x"))


def test_yields_by_stage_with_the_losses_drawn(told, page):
    answer = page("yields/", **DAYS)
    text = text_of(answer)
    assert "From collected to spooled" in text and "<svg" in answer.content.decode()
    assert "10.000 kg were collected and 5.000 kg wound on spools." in text.replace("\u00a0", " ")
    rows = csv_of(page("yields/", format="csv", table="rows", **DAYS))
    assert {row["group"] for row in rows} == {"sort", "shred", "dry", "extrude"}
    steps = csv_of(page("yields/", format="csv", table="losses", **DAYS))
    assert steps[0]["what"] == "collected" and float(steps[-1]["left, kg"]) == 5.0


@pytest.mark.parametrize("by", ["machine", "operator", "polymer", "source", "month"])
def test_yields_by_other_groups(page, by):
    assert len(csv_of(page("yields/", format="csv", by=by, **DAYS))) >= 1


def test_a_stage_over_time_names_runs_out_of_control(told, page):
    for number in range(20, 32):
        told.tell(f"R{number} shred R1.1 10g -> flake {9 if number != 31 else 1}g, fines 1g")
    answer = page("yields/", stage="shred", **DAYS)
    text = text_of(answer)
    assert told.code("R31") in text and "out of control" in text
    rows = csv_of(page("yields/", format="csv", table="chart", stage="shred", **DAYS))
    assert [row["run"] for row in rows if row["out of control"]][-1] == told.code("R31")
    assert "A chart needs at least two runs" in text_of(page("yields/", stage="wind", **DAYS)) or (
        "No run ended" in text_of(page("yields/", stage="wind", **DAYS))
    )


def test_both_models_stand_side_by_side_and_one_is_chosen(told, page, send):
    code = told.code("R5")
    answer = page(f"runs/{code}/model/")
    assert "What counts: well mixed" in text_of(answer)
    rows = csv_of(page(f"runs/{code}/model/", format="csv"))
    assert {row["origin"] for row in rows} == {told.code("O1"), told.code("C1")}
    refused = send(f"runs/{code}/model/choose/", 422, model="feed order", reason="")
    assert "error-summary" in refused.content.decode()
    done = send(f"runs/{code}/model/choose/", model="feed order", reason="refills were noted")
    assert code in text_of(done)
    assert "What counts: feed order" in text_of(page(f"runs/{code}/model/"))
    assert audit(told.actor.workshop_id) == []
    page(f"runs/{told.code('R2')}/model/", 404)


def test_a_period_is_reconciled_and_shown_side_by_side(told, page, send):
    told.tell("count R9: R1.1 480g")
    done = send("reconciliations/new/", first=DAYS["from"], last=DAYS["to"])
    assert "The work has begun" in text_of(done)
    assert "Reconciling" in text_of(page("reconciliations/1/")) or Job.objects.filter(
        finished_at__isnull=False
    )
    reconciliation_run(Job.objects.latest("pk").pk)
    answer = page("reconciliations/1/")
    rows = table_of(answer, "Measured and reconciled, side by side")
    assert len(rows) > 10
    assert "Global test" in text_of(answer)
    exported = csv_of(page("reconciliations/1/", format="csv"))
    assert {"draw", "output"} <= {row["flow"] for row in exported}
    assert "Reconciliations, the newest first" in text_of(page("reconciliations/"))
    wrong = send("reconciliations/new/", 422, first=DAYS["to"], last=DAYS["from"])
    assert "not after its start" in text_of(wrong)


def test_another_workshops_pages_do_not_exist(told, client, page):
    stranger = WorkshopFactory()
    for address in ("closures/", "weighing/", "yields/", "reconciliations/"):
        assert client.get(f"/w/{stranger.slug}/{address}").status_code == 404
    page("reconciliations/7/", 404)
    page("runs/R999-Q/model/", 404)


def test_counted_bottles_are_booked_by_their_sample(told, page, send):
    send("weighing/samples/new/", name="half litre", masses="24 g\n26 g\n25 g\n25 g")
    fields = {
        "happened_at": "2024-01-20T10:00",
        "source": "Source of C1",
        "bags-rows": "bag",
        "bags-0-form": "bottles",
        "bags-0-polymer": "PET",
        "bags-0-count": "120",
        "bags-0-how": "counted",
        "bags-0-sample": "half litre",
    }
    asked = send("collections/new/", **fields)
    assert "Nothing is recorded yet" in text_of(asked)
    done = send("collections/new/", step="record", **fields)
    assert "3.000 kg" in text_of(done).replace("\u00a0", " "), text_of(done)[:1500]
    rows = table_of(page("weighing/", **DAYS), "How masses became known")
    (counted,) = [row for row in rows if row[1] == "counted"]
    assert counted[2:4] == ["1", "3.000 kg"]


def test_feed_order_is_chosen_when_the_run_is_recorded(told, page):
    text = text_of(page("record/extrude/"))
    assert "Origins computed as" in text and "feed order" in text
    assert "Origins computed as" not in text_of(page("record/shred/"))
