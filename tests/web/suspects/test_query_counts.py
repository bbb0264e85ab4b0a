"""No page from a bad spool to the cause asks the database more than twelve times."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recycling.records.lots.notes import HoldEntry
from recycling.services.lots.holds import hold_place
from tests.queries.spoilt import judge

pytestmark = pytest.mark.django_db

MOST_QUERIES = 13
PAGES = (
    "suspects/",
    "suspects/affected/?of={C2}",
    "suspects/affected/?of={E3}",
    "suspects/notice/?of={C2}",
    "suspects/way/?of={C2}",
    "lots/{S1}/contents/",
    "verdicts/?state=counted",
)


@pytest.mark.parametrize("page", PAGES)
def test_a_page_asks_the_database_no_more_often_than_it_may(told, browser, page):
    for name in ("Io", "Bo", "Cy"):
        for place in range(1, 6):
            judge(told, f"S{place}", good=place % 2 == 0, by=name)
    hold_place(told.actor, HoldEntry(told.code("C2"), "It snaps.", with_descendants=True))
    named = {key: told.code(key) for key in ("C2", "E3", "S1")}
    address = f"/w/{told.actor.slug}/{page.format(**named)}"
    browser.get(f"/w/{told.actor.slug}/")
    with CaptureQueriesContext(connection) as queries:
        assert browser.get(address).status_code == 200
    asked = [query["sql"][:90] for query in queries.captured_queries]
    assert len(asked) <= MOST_QUERIES, asked
