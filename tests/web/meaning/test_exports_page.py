"""The page of exports: choose a lot or a period, fetch the files, and what cannot be exported."""

from __future__ import annotations

import io
import json
import re
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recycling.models import Job, ToldEnergy
from recycling.services.integrity.archive_make import TASK, archive_make
from recycling.tables.integrity import open_archive
from tests.factories import MemberFactory, WorkshopFactory
from tests.queries.exported import problems
from tests.web.meaning.conftest import DAYS, signed_in
from tests.web.reading.reading_pages import text_of

MOST_QUERIES = 12


def links(answer) -> list[str]:
    found = re.findall(r'href="([^"]+exports/(?:epcis|prov)/[^"]*)"', answer.content.decode())
    return [unescape(one) for one in found]


def fetched(client, url: str):
    answer = client.get(url)
    assert answer.status_code == 200 and answer.streaming
    return answer, json.loads(b"".join(answer.streaming_content))


def test_a_period_is_chosen_and_its_files_fetched(told, page, client):
    epcis, prov = links(page("exports/", **DAYS))
    answer, found = fetched(client, epcis)
    assert answer["Content-Type"].startswith("application/ld+json")
    name = f"{told.actor.slug}-{DAYS['from']}-{DAYS['to']}-epcis.jsonld"
    assert answer["Content-Disposition"] == f'attachment; filename="{name}"'
    assert not problems(found)
    assert len(found["epcisBody"]["eventList"]) >= 7
    _, found = fetched(client, prov)
    assert len(found["activity"]) == 7


def test_a_lot_is_chosen_back_or_both_ways(told, page, client):
    spool = told.code("R5.2")
    assert f"exports/?lot={spool}" in page(f"lots/{spool}/").content.decode()
    back = page("exports/", lot=spool)
    assert f"The trace of {spool}:" in text_of(back)
    _, prov = links(back)
    assert spool in fetched(client, prov)[1]["entity"].__str__()
    bag = told.code("C1.1")
    one, both = (page("exports/", lot=bag, forward=way) for way in ("", "on"))
    sizes = [len(fetched(client, links(answer)[1])[1]["entity"]) for answer in (one, both)]
    assert sizes[0] < sizes[1]


def test_fetching_writes_nothing_and_energies_are_told_by_a_press(told, page, client):
    shown = page("exports/", **DAYS).content.decode()
    here = unescape(re.search(r'action="([^"]+exports/epcis/tell/[^"]*)"', shown)[1])
    assert client.get(here).status_code == 405
    with CaptureQueriesContext(connection) as asked:
        fetched(client, links(page("exports/", **DAYS))[0])
    assert not [q["sql"] for q in asked if q["sql"].startswith(("INSERT", "UPDATE", "DELETE"))]
    said = text_of(client.post(here, follow=True))
    assert "are told from now on" in said and ToldEnergy.objects.exists()
    assert "were told before" in text_of(client.post(here, follow=True))
    wrong = client.post(f"{here.partition('?')[0]}?lot=L999-0", follow=True)
    assert wrong.status_code == 404 and "There is no lot" in text_of(wrong)
    viewer = MemberFactory(actor=told.actor, role="viewer")
    signed_in(client, viewer)
    assert "epcis/tell" not in client.get(f"/w/{told.actor.slug}/exports/").content.decode()
    assert client.post(here).status_code == 403


def test_what_cannot_be_exported_is_said_on_the_page(told, page, client):
    wrong = page("exports/", 404, lot="L999-0")
    assert "There is no lot" in text_of(wrong) and not links(wrong)
    late = page("exports/", 422, **{"from": "yesterday", "to": ""})
    assert "This is no day of the calendar" in text_of(late)
    for query in ("lot=L999-0", "from=yesterday"):
        answer = client.get(f"/w/{told.actor.slug}/exports/epcis/?{query}")
        assert answer.status_code == 302 and f"/exports/?{query}" in answer["Location"]


@pytest.mark.django_db
def test_the_page_asks_few_queries_and_belongs_to_its_workshop(told, page, client):
    with CaptureQueriesContext(
        connection,
    ) as asked:
        page("exports/", lot=told.code("R5.2"))
    assert len(asked) <= MOST_QUERIES
    stranger = WorkshopFactory()
    signed_in(client, stranger)
    lot = told.code("R5.2")
    assert client.get(f"/w/{stranger.slug}/exports/?lot={lot}").status_code == 404
    assert client.get(f"/w/{told.actor.slug}/exports/").status_code == 404


def test_a_lead_has_the_whole_workshop_written_and_nobody_else(told, page, client):
    shown = page("exports/").content.decode()
    here = f"/w/{told.actor.slug}/exports/archive/"
    assert f'action="{here}"' in shown
    answer = client.post(here, {"people": "on", "idempotency_key": "once"})
    again = client.post(here, {"people": "on", "idempotency_key": "once"})
    assert answer["Location"] == again["Location"] == f"{here}1/"
    assert "Waiting for its turn" in page("exports/archive/1/").content.decode()
    assert client.get(f"{here}1/file/").status_code == 404
    poll = client.get(f"{here}1/", HTTP_HX_REQUEST="true")
    assert "hx-get" in poll.content.decode() and "<html" not in poll.content.decode()
    assert archive_make(Job.objects.get(task=TASK).pk)
    assert client.get(f"{here}1/", HTTP_HX_REQUEST="true")["HX-Refresh"] == "true"
    assert "There until" in page("exports/archive/1/").content.decode()
    file = client.get(f"{here}1/file/")
    assert (file["Content-Type"], file["Cache-Control"]) == ("application/zip", "no-store")
    with open_archive(io.BytesIO(b"".join(file.streaming_content))) as archive:
        assert archive.manifest.about["workshop"]["slug"] == told.actor.slug
        assert len(list(archive.rows("facts/001_workshop.jsonl"))) == 1
    signed_in(client, MemberFactory(actor=told.actor))
    assert here not in client.get(f"/w/{told.actor.slug}/exports/").content.decode()
    for url in (f"{here}1/", f"{here}1/file/"):
        assert client.get(url).status_code == 403
    assert client.post(here).status_code == 403
    assert client.get(here).status_code == 405
