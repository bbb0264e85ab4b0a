"""An open run takes one draw, output, loss, setting or check, or a list of them: all or none."""

from __future__ import annotations

from datetime import datetime, timedelta

import jsonschema
import pytest

from recycling.ledger.models import Entry
from recycling.models import RunCheck, RunSetting
from tests.api.conftest import MORNING, NOON
from tests.api.test_schema import check_schema
from tests.factories import KG, G


@pytest.fixture
def path(shop, api) -> str:
    body = {
        "stage": "extrude",
        "state": "open",
        "machine": "extruder 1",
        "started_at": MORNING,
        "inputs": [{"lot": shop.dried, "mass": "1 kg"}],
    }
    return f"/runs/{api.post('/runs/', body)['code']}"


def codes(problem) -> list[tuple[str, str]]:
    return [(one["code"], one["pointer"]) for one in problem["errors"]]


def test_a_list_of_draws_is_drawn_in_turn(shop, api, path):
    draws = [
        {"lot": shop.purge, "mass_mg": 300 * G, "at": MORNING},
        {"lot": shop.dried, "mass": "200 g", "at": NOON},
    ]
    run = api.post(f"{path}/draws/", draws)
    assert {one["lot"]: one["mass_mg"] for one in run["inputs"]} == {
        shop.dried: 1_200 * G,
        shop.purge: 300 * G,
    }
    assert run["in_process_mg"] == 1_500 * G


def test_every_output_of_a_list_is_answered_with_its_code(shop, api, path):
    outputs = [{"form": "filament", "mass_mg": 400 * G}, {"form": "start-up scrap", "mass": "50 g"}]
    run = api.post(f"{path}/outputs/", outputs)
    assert [lot["form"] for lot in run["lots"]] == ["filament", "start-up scrap"]
    assert run["in_process_mg"] == 550 * G


def test_what_is_wrong_in_a_list_undoes_all_of_it(shop, api, path):
    before = Entry.objects.count()
    draws = [
        {"lot": shop.purge, "mass": "300 g", "at": NOON},
        {"lot": shop.dried, "mass": "900 kg", "at": NOON},
    ]
    problem = api.post(f"{path}/draws/", draws, status=422)
    assert [one[1][:2] for one in codes(problem)] == ["/1"]
    assert Entry.objects.count() == before
    assert api.read(f"{path}/")["in_process_mg"] == 1 * KG


def test_the_draw_that_takes_too_much_is_named_though_another_is_of_the_same_lot(shop, api, path):
    """Purge compound of 3 kg: the first takes part of it, the second more than is left."""
    draws = [
        {"lot": shop.purge, "mass": "2 kg", "at": NOON},
        {"lot": shop.purge, "mass": "2 kg", "at": NOON},
    ]
    problem = api.post(f"{path}/draws/", draws, status=422)
    assert codes(problem) == [("lot-overdrawn", "/1/mass")]
    assert api.post(f"{path}/draws/", draws[:1])["in_process_mg"] == 3 * KG
    problem = api.post(f"{path}/draws/", draws[1], status=422)
    assert codes(problem) == [("lot-overdrawn", "/mass")], "one body has no place in a list"


def test_what_hinders_one_draw_of_a_list_names_its_place(shop, api, path):
    fits = {"lot": shop.purge, "mass": "1 g"}
    problem = api.post(f"{path}/draws/", [fits, {**fits, "lot": "L999-X"}], status=422)
    assert codes(problem) == [("lot-unknown", "/1/lot")]
    api.post(f"/lots/{shop.dried}/holds/", {"reason": "smells"})
    problem = api.post(f"{path}/draws/", [fits, {**fits, "lot": shop.dried}], status=422)
    assert codes(problem) == [("lot-held", "/1/lot")]
    problem = api.post(f"{path}/draws/", [fits, {**fits, "scale": "none such"}], status=422)
    assert codes(problem) == [("scale-unknown", "/1/scale")]
    assert api.read(f"{path}/")["in_process_mg"] == 1 * KG


@pytest.mark.parametrize(
    ("what", "body"),
    [
        ("draws", {"mass_mg": 1 * G}),
        ("outputs", {"form": "filament", "mass_mg": 1 * G}),
        ("losses", {"account": "volatiles", "mass_mg": 1 * G}),
    ],
)
def test_each_of_a_list_has_its_own_time(shop, api, path, what, body):
    """Those of one moment are one entry of the book; what is too early is named by its place."""
    body |= {"lot": shop.purge} if what == "draws" else {}
    early, late = datetime.fromisoformat(MORNING), datetime.fromisoformat(NOON)
    before = Entry.objects.count()
    times = [NOON, MORNING, NOON]
    run = api.post(f"{path}/{what}/", [{**body, "at": at} for at in times])
    assert run["in_process_mg"] == 1 * KG + (3 if what == "draws" else -3) * G
    made = list(Entry.objects.order_by("sequence").values_list("happened_at", flat=True))[before:]
    assert made == ([late, early, late] if what == "draws" else [late, early])
    too_early = (early - timedelta(hours=1)).isoformat()
    problem = api.post(f"{path}/{what}/", [body, {**body, "at": too_early}], status=422)
    assert codes(problem) == [("before-start", "/1/at")]
    problem = api.post(f"{path}/{what}/", {**body, "at": too_early}, status=422)
    assert codes(problem) == [("before-start", "/at")]


def test_every_problem_of_form_is_named_by_its_place(shop, api, path):
    draws = [{"lot": shop.purge, "mass": "much"}, {"mass_mg": 1}, {"lot": shop.dried, "mass_mg": 1}]
    problem = api.post(f"{path}/draws/", draws, status=422)
    assert codes(problem) == [("mass-unreadable", "/0/mass"), ("field-missing", "/1/lot")]


def test_a_problem_of_the_book_is_named_by_its_place(shop, api, path):
    outputs = [{"form": "filament", "mass_mg": 4 * G}, {"form": "caps", "mass_mg": 1 * G}]
    problem = api.post(f"{path}/outputs/", outputs, status=422)
    assert codes(problem) == [("form-wrong", "/1/form")]
    losses = [{"account": "volatiles", "mass": "1 g"}, {"account": "water", "mass": "1 g"}]
    problem = api.post(f"{path}/losses/", losses, status=422)
    assert codes(problem) == [("loss-wrong", "/1/account")]
    assert api.read(f"{path}/")["in_process_mg"] == 1 * KG


def test_settings_and_checks_are_noted_by_the_list(shop, api, path):
    settings = [{"key": "zone_1_c", "value": 262}, {"key": "zone_2_c", "value": 268}]
    api.post(f"{path}/settings/", settings)
    assert list(RunSetting.objects.values_list("key", flat=True)) == ["zone_1_c", "zone_2_c"]
    checks = [{"key": "seen", "value": "even"}, {"key": "moon", "value": 1}]
    problem = api.post(f"{path}/checks/", checks, status=422)
    assert codes(problem) == [("field-unknown", "/1/key")]
    assert not RunCheck.objects.filter(key="seen").exists()


@pytest.mark.parametrize("count", [0, 201])
def test_a_list_has_bounds(shop, api, path, count):
    draws = [{"lot": shop.purge, "mass_mg": 1}] * count
    assert codes(api.post(f"{path}/draws/", draws, status=422)) == [("list-length", "")]


def test_the_same_list_again_is_recorded_once(shop, api, path):
    draws = [{"lot": shop.purge, "mass_mg": 1 * G, "at": NOON}] * 2
    first = api.post(f"{path}/draws/", draws, Idempotency_Key="twice")
    assert api.post(f"{path}/draws/", draws, Idempotency_Key="twice") == first
    assert api.read(f"{path}/")["in_process_mg"] == 1_002 * G


def test_the_description_takes_both(shop, api):
    for body in ({"lot": "L1", "mass_mg": 1}, [{"lot": "L1", "mass_mg": 1}]):
        check_schema({"$ref": "#/components/schemas/DrawBodyOrSeveral"}, body)
    with pytest.raises(jsonschema.ValidationError):
        check_schema({"$ref": "#/components/schemas/DrawBodyOrSeveral"}, [{"mass_mg": 1}])
