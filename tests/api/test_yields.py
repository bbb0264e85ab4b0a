"""Yields by each grouping: the API's rows, its CSV and the page say the same."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from functools import reduce
from operator import getitem

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from recycling.models import Member
from recycling.queries.balance.yields import GROUPS
from tests.api.conftest import Program
from tests.factories import KeyFactory, ScaleFactory
from tests.histories import tell

YEAR = "from=2020-01-01&to=2030-01-01"
STORY = """
O1: heel PET 60g in extruder
C1: bottles PET 6kg, 4kg
R1 sort C1.1 6kg, C1.2 3kg -> clean bottles 8500g, caps HDPE 300g, reject PET 100g, ~residue 50g
R2 shred R1.1 8kg -> flake 7kg, oversize 800g, fines 100g, ~dust 20g
R3 shred R2.2 800g -> flake 700g, fines 50g
R4 dry R2.1 6kg, R3.1 700g -> dried flake 6650g, ~water 40g
R5 extrude R4.1 6kg -> start-up scrap 500g, filament 5kg spool, heel 400g
"""
SHARES = {
    "first_pass.share": "yield",
    "first_pass.u": "standard uncertainty of yield",
    "first_pass.covered.half": "95 % half-interval of yield",
    "overall.share": "yield over first feed",
    "dry.share": "dry yield",
    "dry.u": "standard uncertainty of dry yield",
    "dry.covered.half": "95 % half-interval of dry yield",
}
MASSES = {
    "product_mg": "product, kg",
    "target_mg": "target polymer in, kg",
    "again_mg": "of it again, kg",
}


@pytest.fixture
def told(db):
    told = tell("")
    ScaleFactory(actor=told.actor, interval_mg=1_000)
    return told.tell(STORY)


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.lstrip("\ufeff"))))


def of_page(told, by: str) -> list[dict[str, str]]:
    browser = Client()
    user = Member.objects.get(pk=told.actor.member_id).user_id
    browser.force_login(get_user_model().objects.get(pk=user))
    answer = browser.get(f"/w/{told.actor.slug}/yields/?{YEAR}&by={by}&format=csv&table=rows")
    assert answer.status_code == 200
    whole = getattr(answer, "streaming_content", None)
    return read((b"".join(whole) if whole else answer.content).decode())


@pytest.mark.parametrize("by", GROUPS)
def test_the_csv_of_a_grouping_equals_its_rows_and_its_page(told, by):
    program = Program(KeyFactory(actor=told.actor, scope="read").secret)
    rows = program.read(f"/yields/?{YEAR}&by={by}")["rows"]
    as_csv = program.get(f"/yields/?{YEAR}&by={by}", Accept="text/csv").content.decode()
    table, page = read(as_csv), of_page(told, by)
    assert rows and [row["key"] for row in table] == [row["key"] for row in rows]
    assert [row["group"] for row in page] == [row["key"] for row in rows]
    assert set(MASSES) <= set(table[0]) and {"key", "runs", "dry_runs"} <= set(table[0])
    for row, line, shown in zip(rows, table, page, strict=True):
        assert int(line["runs"]) == row["runs"] == int(shown["runs"]) > 0
        for ours, theirs in MASSES.items():
            assert int(line[ours]) == row[ours] == Decimal(shown[theirs]) * 1_000_000
        for ours, theirs in SHARES.items():
            ratio, *parts = ours.split(".")
            if row[ratio] is None:
                assert not line.get(ours) and not shown[theirs]
            else:
                value = reduce(getitem, parts, row[ratio])
                assert float(line[ours]) == value
                assert float(shown[theirs]) == pytest.approx(value, abs=5e-7)
    assert any(row["first_pass"] for row in rows)
