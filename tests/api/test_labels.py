"""Labels through the API: the same files as on pages, and nothing of another workshop's."""

from __future__ import annotations

import io

import pikepdf
import pytest

from tests.api.conftest import BASE, sorting

pytestmark = pytest.mark.django_db


@pytest.fixture
def sorted_lot(shop, api):
    return api.post("/runs/", sorting(shop))["outputs"][0]["lot"]


@pytest.fixture
def fetch(api):
    """Fetch a file as it is."""

    def get(path: str, status: int = 200):
        answer = api.client.get(f"{BASE}{path}", headers=api.headers)
        assert answer.status_code == status, answer.content[:500]
        return answer

    return get


def test_a_lot_has_a_label(fetch, sorted_lot):
    answer = fetch(f"/lots/{sorted_lot}/label.svg")
    assert answer["Content-Type"] == "image/svg+xml"
    assert answer.content.startswith(b"<svg")
    larger = fetch(f"/lots/{sorted_lot}/label.svg?sheet=100x150").content
    assert larger != answer.content


def test_several_lots_have_sheets(fetch, sorted_lot):
    answer = fetch(f"/labels/?lots={sorted_lot}&copies=3&start=24&sheet=a4-3x8&right_mm=-1.5")
    assert answer["Content-Type"] == "application/pdf"
    with pikepdf.open(io.BytesIO(answer.content)) as pdf:
        assert len(pdf.pages) == 2


@pytest.mark.parametrize(
    ("query", "status", "code"),
    [
        ("", 422, "labels-none"),
        ("?lots=L999-X", 404, "lot-unknown"),
        ("?lots={lot}&sheet=a4-9x9", 400, "choice-wrong"),
        ("?lots={lot}&start=25", 422, "label-start-wrong"),
        ("?lots={lot}&right_mm=99", 422, "label-offset-wrong"),
        ("?lots={lot}&right_mm=1e1", 400, "number-wanted"),
        ("?lots={lot}&copies=0", 400, "number-out-of-bounds"),
        ("?lots={lot}&colour=red", 400, "parameter-unknown"),
    ],
)
def test_what_cannot_be_printed_is_refused(fetch, sorted_lot, query, status, code):
    answer = fetch(f"/labels/{query.format(lot=sorted_lot)}", status)
    assert answer["Content-Type"] == "application/problem+json"
    assert [error["code"] for error in answer.json()["errors"]] == [code]
