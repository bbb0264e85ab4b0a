"""Every page of the demo opens, and asks the database little, however long the season was."""

from __future__ import annotations

import re
from collections import Counter
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recycling.demo import cast

pytestmark = pytest.mark.django_db
MOST_QUERIES = 15
"""Twelve, and three on the page of a lot: history of its facts, what was unusual, its limits."""
ALIKE = 3
"""So many pages are opened of those whose addresses differ in codes and numbers only."""
FIRST = f"/w/{cast.WORKSHOP.slug}/"
NOT_HERE = re.compile(r"/(acting|audit)/$")
"""Told to a locked tablet; and the audit, which looks at all of the book when it is asked."""


def shape(address: str) -> str:
    path = address.partition("?")[0]
    return re.sub(r"\d+", "1", re.sub(r"[A-Z]+\d+-[A-Z0-9]\b", "A1-A", path))


def links(page: str, address: str) -> list[str]:
    found = [unescape(one) for one in re.findall(r'href="([^"#]+)"', page)]
    whole = [address.partition("?")[0] + one if one[0] == "?" else one for one in found]
    return [one for one in whole if one.startswith(FIRST) and not NOT_HERE.search(one)]


@pytest.mark.slow
def test_every_page_opens_with_few_queries(signed_in):
    for address in (FIRST, f"{FIRST}energy/"):
        signed_in.get(address)  # what a connection and a session ask once
    waiting, opened, slow = [FIRST], Counter(), {}
    seen = set(waiting)
    while waiting:
        address = waiting.pop(0)
        opened[shape(address)] += 1
        if opened[shape(address)] > ALIKE:
            continue
        with CaptureQueriesContext(connection) as asked:
            answer = signed_in.get(address)
        assert answer.status_code in (200, 302), address
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            if len(asked) > MOST_QUERIES:
                slow[address] = len(asked)
            fresh = dict.fromkeys(links(answer.content.decode(), address))
            waiting += [one for one in fresh if one not in seen]
            seen |= fresh.keys()
    assert len(opened) > 100
    assert not slow
