"""What the figures mean, through the API: closure, weighing, yield, model, reconciliation."""

from __future__ import annotations

from tests.api.conftest import sorting
from tests.factories import G

YEAR = "from=2020-01-01&to=2030-01-01"


def test_runs_by_how_they_close(shop, api):
    run = api.post("/runs/", sorting(shop))
    found = api.read(f"/closures/?{YEAR}")
    (row,) = found["rows"]
    assert row["run"] == run["code"]
    assert (row["state"], found["usual"], found["open"]) == ("usual", 1, 0)
    assert row["u_mg"] > 0
    assert row["usual_low_mg"] < row["unaccounted_mg"] < row["usual_high_mg"]
    assert row["sentence"].endswith("usual by a first setting (default, not checked).")
    assert (row["slips"], row["to_correct"]) == ([], [])
    assert api.read(f"/closures/?{YEAR}&state=to%20look%20at")["rows"] == []


def test_what_may_have_happened_is_named_with_its_figure(shop, api):
    body = sorting(shop)
    figures = body["outputs"]
    for one in figures:
        one["mass_mg"] = one["mass_mg"] // 10
    run = api.post("/runs/", body)
    (row,) = api.read(f"/closures/?{YEAR}&state=to%20look%20at")["rows"]
    assert row["run"] == run["code"]
    assert row["to_correct"][0]["posting"] in {one["posting"] for one in run["figures"]}
    assert {"kind", "chance", "right_mg", "run", "postings"} <= row["slips"][0].keys()


def test_weighings_are_totalled_apart(shop, api):
    found = api.read(f"/weighings/?{YEAR}")
    assert {row["how"] for row in found["received"]} <= {"weighed", "counted", "estimated"}
    assert sum(row["mass_mg"] for row in found["received"]) > 0


def test_a_sample_of_bottles_is_kept(shop, api):
    body = {"name": "half litre, clear", "masses_mg": [24 * G, 26 * G, 25 * G, 25 * G]}
    sample = api.post("/samples/", body)
    assert sample["mean_mg"] == 25 * G
    assert api.read("/samples/")["rows"] == [sample]


def test_yields_of_a_period(shop, api):
    run = api.post("/runs/", sorting(shop))
    found = api.read(f"/yields/?{YEAR}&stage=sort")
    (row,) = found["rows"]
    assert row["first_pass"]["share"] == run["stage_yield"]
    assert found["chart"] is None


def test_a_period_is_reconciled(shop, api):
    api.post("/runs/", sorting(shop))
    body = {"start": "2020-01-01T00:00:00Z", "end": "2030-01-01T00:00:00Z"}
    asked = api.post("/reconciliations/", body, status=202)
    found = api.read(f"/reconciliations/{asked['number']}/")
    assert found["number"] == asked["number"]
    flows = api.read(f"/reconciliations/{asked['number']}/flows/?limit=1")
    assert len(flows["rows"]) <= 1
    assert api.read("/reconciliations/")["rows"][0]["number"] == asked["number"]


def test_counted_bottles_need_no_mass_where_a_sample_is_named(shop, api):
    api.post("/samples/", {"name": "half litre", "masses_mg": [24_000, 26_000, 25_000]})
    bag = {"polymer": "PET", "count": 40, "sample": "half litre"}
    body = {"source": "school", "collected_at": "2024-01-08T09:00:00Z", "bags": [bag]}
    sources = api.read("/sources/")["rows"]
    body["source"] = sources[0]["name"]
    made = api.post("/collections/", body)
    (figure,) = api.read(f"/runs/{made['run']}/")["figures"]
    assert (figure["mass_mg"], figure["how"], figure["sample"]) == (
        1_000_000,
        "counted",
        "half litre",
    )
    assert figure["basis"] == "sample" and figure["u_mg"] > 20_000
    bag["sample"] = "moon"
    problem = api.post("/collections/", body, status=422)
    assert [(one["code"], one["pointer"]) for one in problem["errors"]] == [
        ("sample-unknown", "/bags/0/sample")
    ]


def test_a_loss_is_weighed_by_request(shop, api):
    loss = {
        "account": "residue",
        "gross": "350 g",
        "tare": "200 g",
        "how": "swept up",
        "raw": "ST,GS,+0.350kg",
    }
    run = api.post("/runs/", sorting(shop, losses=[loss]))
    (kept,) = [one for one in run["figures"] if one["account"] == "residue"]
    assert (kept["mass_mg"], kept["gross_mg"], kept["raw"]) == (150_000, 350_000, "ST,GS,+0.350kg")
    loss["mass"] = "1 g"
    problem = api.post("/runs/", sorting(shop, losses=[loss]), status=422)
    assert [(one["code"], one["pointer"]) for one in problem["errors"]] == [
        ("gross-net-differ", "/losses/0/gross")
    ]
