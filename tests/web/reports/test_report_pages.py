"""Pages of reports: asked for with everything kept, followed, read, passed on, verified."""

from __future__ import annotations

import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from recycling.models import Report, ReportLink
from recycling.reports.asked import report_file
from recycling.services.reports.links import report_link_give
from recycling.web.reports.deeds import LARGEST_FILE
from tests.reports.conftest import made

pytestmark = pytest.mark.django_db
MOST_QUERIES = 12


def text(answer) -> str:
    return html.unescape(answer.content.decode())


def upload(held: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile("report.pdf", held)


def test_three_presses_lead_to_a_report(told, lead):
    listed = text(lead.get(f"/w/{told.actor.slug}/reports/"))
    (new,) = re.findall(r'href="([^"]*reports/new/\?from=[^"]*)"><span>Last month', listed)
    assert 'aria-current="page">Reports' in listed and "No report was made yet" in listed
    form = text(lead.get(new))
    first = re.search(r'name="from_date" value="([\d-]+)"', form)
    assert first and first.group(1) in new


def test_a_report_is_asked_for_made_and_read(told, ask, lead):
    assert ask(people_reached="40", title="Winter <1>", signed_by="Ada\nBea").status_code == 302
    report = Report.objects.get()
    code = report.code
    address = f"/w/{told.actor.slug}/reports/{code}/"
    waiting = text(lead.get(address))
    assert "Waiting for its turn" in waiting and f'hx-get="{address}"' in waiting
    assert "Look again" in waiting
    made_now(report)
    polled = lead.get(address, headers={"HX-Request": "true"})
    assert polled["HX-Refresh"] == "true"
    page = text(lead.get(address))
    assert (
        "Winter <1>" in page and "<h1>Winter &lt;1&gt;</h1>" in lead.get(address).content.decode()
    )
    assert code in page and page.count("</svg>") >= 1
    for kind in ("pdf", "xlsx", "csv", "json", "html"):
        answer = lead.get(f"{address}files/{kind}/")
        assert answer.content == report_file(told.actor, code, kind)[1]
        assert answer["Content-Disposition"].startswith("attachment;")
        assert answer["X-Content-Type-Options"] == "nosniff"
    table = lead.get(address, {"format": "csv", "table": "counters"})
    assert table.content.decode("utf-8-sig").startswith("Counted,")
    assert lead.get(address, {"format": "csv", "table": "none"}).status_code == 404
    assert code in text(lead.get(f"/w/{told.actor.slug}/reports/"))


def made_now(report: Report) -> None:
    """Do the job of a report that waits for the commit which a test never makes."""
    from recycling.models import Job
    from recycling.services.reports.make import report_make

    assert report_make(Job.objects.latest("pk").pk)
    report.refresh_from_db()
    assert report.state == "ready", report.failure


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"to_date": "2023-12-01"}, "The last day lies before the first."),
        ({"from_date": "2199-01-01", "to_date": "2199-02-01"}, "Nothing is known yet"),
        ({"from_date": "1990-01-01", "to_date": "1990-02-01"}, "Nothing was recorded"),
        ({"from_date": ""}, "required"),
        ({"from_date": "31.12."}, "is not a date"),
        ({"people_reached": "many"}, "not a whole number"),
        ({"title": "x" * 121}, "within 120 characters"),
        ({"supersedes": "D9-9"}, "There is no report"),
        ({"kind": "thanks"}, "whom the thanks are for"),
    ],
)
def test_what_is_wrong_is_said_and_everything_typed_is_kept(ask, changed, said):
    answer = ask(note="a note of mine", signed_by="Ada\nBea", **changed)
    page = text(answer)
    assert answer.status_code == 422
    assert said in page, re.findall(r'class="error[^>]*>([^<]+)', page)
    assert "a note of mine" in page and "Ada\nBea" in page.replace("\r", "")
    for value in changed.values():
        assert not value or value in page
    assert not Report.objects.exists()


def test_a_form_that_is_sent_twice_makes_one_report(ask):
    first, again = (ask(idempotency_key="once") for _ in range(2))
    assert first["Location"] == again["Location"] and Report.objects.count() == 1


def test_who_may_make_and_who_may_read(told, ask, browsers):
    code = made(told)
    base = f"/w/{told.actor.slug}/reports/"
    for role, status in (("lead", 302), ("operator", 302), ("viewer", 403)):
        assert ask(browsers[role]).status_code == status, role
        assert browsers[role].get(f"{base}{code}/").status_code == 200
        assert ("Make a report" in text(browsers[role].get(base))) == (status == 302)
    for role, given in (("operator", 403), ("viewer", 403), ("lead", 302)):
        data = {"valid_days": "30", "idempotency_key": f"give-{role}"}
        assert browsers[role].post(f"{base}{code}/links/", data).status_code == given
    assert ReportLink.objects.count() == 1
    assert browsers["anybody"].get(f"{base}{code}/").status_code == 302


def test_a_lead_gives_an_address_and_takes_it_away(told, lead):
    code = made(told)
    base = f"/w/{told.actor.slug}/reports/{code}/"
    for days, said in (("0", "From 1 to"), ("soon", "From 1 to"), ("30", "public address now")):
        data = {"valid_days": days, "idempotency_key": f"give-{days}"}
        assert said in text(lead.post(f"{base}links/", data, follow=True))
    page = text(lead.get(base))
    (address,) = re.findall(r'href="http://testserver(/r/[^"]+)"', page)
    assert Client().get(address).status_code == 200
    link = ReportLink.objects.get().pk
    for turn, said in enumerate(("opens nothing any more", "No such public address")):
        data = {"link": str(link), "idempotency_key": f"take-{turn}"}
        assert said in text(lead.post(f"{base}links/", data, follow=True))
    gone = Client().get(address)
    assert gone.status_code == 404 and "This address opens nothing" in text(gone)
    assert code not in text(gone) and told.actor.workshop not in text(gone)


def test_anybody_reads_takes_and_verifies_at_the_public_address(told):
    code, other = made(told, title="For all"), made(told, title="Another")
    address = f"/r/{report_link_give(told.actor, code).token}/"
    anybody = Client()
    page = anybody.get(address)
    assert page["Cache-Control"] == "no-store" and page["X-Robots-Tag"] == "noindex, nofollow"
    assert page["Referrer-Policy"] == "same-origin", "tells no other site; none at all stops forms"
    assert "For all" in text(page) and "Source of" not in text(page)
    assert told.actor.name not in text(page).split("<main")[1]
    order = [text(page).index(f'{one}"') for one in ("files/pdf/", 'id="summary', "files/xlsx/")]
    assert order == sorted(order), "the file for paper, what it says, then all that verifies it"
    held = report_file(told.actor, code, "pdf")[1]
    assert anybody.get(f"{address}files/pdf/").content == held
    assert anybody.get(f"{address}tables/counters/").status_code == 200
    for wrong in ("files/exe/", "tables/none/"):
        assert anybody.get(address + wrong).status_code == 404
    strange = report_file(told.actor, other, "pdf")[1]
    for sent, said in (
        (held, f"It is a file of report {code}"),
        (held + b" ", "It is not a file of this report"),
        (strange, "It is not a file of this report"),
    ):
        assert said in text(anybody.post(address, {"file": upload(sent)}))
    report_link_give(told.actor, other)
    said = text(anybody.post(address, {"file": upload(strange)}))
    assert f"genuine, but a file of another report, {other}" in said
    for data in ({}, {"file": upload(b"")}):
        answer = anybody.post(address, data)
        assert answer.status_code == 422 and "Choose a file first" in text(answer)
    length = {"CONTENT_LENGTH": str(LARGEST_FILE + 1)}
    answer = anybody.post(address, {"file": upload(b"x")}, **length)
    assert answer.status_code == 413 and "larger than any file" in text(answer)


def test_a_file_is_verified_within_the_workshop_too(told, browsers):
    code = made(told)
    address = f"/w/{told.actor.slug}/reports/{code}/verify/"
    held = report_file(told.actor, code, "xlsx")[1]
    assert "It is a file of report" in text(
        browsers["viewer"].post(address, {"file": upload(held)})
    )
    assert "not a file of this report" in text(
        browsers["viewer"].post(address, {"file": upload(b"other")})
    )


def test_the_form_of_a_public_page_is_guarded_against_other_sites(told):
    address = f"/r/{report_link_give(told.actor, made(told)).token}/"
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(address, {"file": upload(b"x")}).status_code == 403


def test_what_changed_is_shown_line_by_line(told, lead):
    first = made(told)
    told.tell("C3: bottles PET 7kg @60")
    base = f"/w/{told.actor.slug}/reports/"
    noted = text(lead.get(f"{base}{first}/"))
    assert "1 entry of this period or earlier was written since" in noted
    assert f"supersedes={first}" in noted
    second = made(told, supersedes=first)
    page = text(lead.get(f"{base}{second}/"))
    assert f"What it says differently from {first}" in page and "10.200 kg" in page
    changes = lead.get(f"{base}{second}/", {"format": "csv", "table": "changes"})
    assert "10200000,17200000,changed" in b"".join(changes).decode()
    assert f'href="{base}{second}/">{second}' in text(lead.get(f"{base}{first}/"))
    same = made(told, supersedes=second)
    assert f"It says the same as {second}" in text(lead.get(f"{base}{same}/"))


def test_a_page_asks_at_most_twelve_times(told, lead):
    first = made(told)
    second = made(told, supersedes=first)
    for _ in range(3):
        report_link_give(told.actor, second)
    base = f"/w/{told.actor.slug}/reports/"
    lead.get(base)
    for address in (base, f"{base}{first}/", f"{base}{second}/"):
        with CaptureQueriesContext(connection) as queries:
            lead.get(address)
        assert len(queries) <= MOST_QUERIES, [one["sql"][:110] for one in queries]


def test_another_workshops_reports_do_not_exist(told, lead, db):
    from tests.histories import tell

    other = tell("C1: bottles PET 1kg")
    code = made(told)
    for path in ("", "files/pdf/"):
        assert lead.get(f"/w/{other.actor.slug}/reports/{code}/{path}").status_code == 404
