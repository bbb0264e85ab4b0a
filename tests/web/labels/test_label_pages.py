"""Label pages: chosen, laid out, remembered, printed; and public addresses given with them."""

from __future__ import annotations

import io

import pikepdf
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from recycling.models import PublicLink, User
from recycling.queries.labels.labels import labels_of
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry, SpoolEntry
from recycling.records.lots.notes import LotEventEntry
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.lots.lot_notes import lot_event
from recycling.services.runs.run_record import run_record
from shared.codes import read_scan
from tests.factories import (
    KG,
    START,
    G,
    MachineFactory,
    MemberFactory,
    OriginFactory,
    WorkshopFactory,
)
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
ADDRESS = "https://ledger.example.org"


@pytest.fixture(autouse=True)
def _address(settings):
    settings.PUBLIC_ADDRESS = ADDRESS
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def lead(db):
    actor = WorkshopFactory(slug="quay", name="Quay workshop", zone="Europe/Lisbon")
    for kind in ("dryer", "extruder"):
        MachineFactory(actor=actor, name=kind, kind=kind)
    return actor


@pytest.fixture
def bags(lead):
    entries = tuple(BagEntry(5 * KG, form="flake", polymer="PET") for _ in range(3))
    return OriginFactory(actor=lead, happened_at=START, bags=entries)


@pytest.fixture
def dried(lead, bags):
    entry = RunEntry(
        "dry",
        START.replace(hour=9),
        START.replace(hour=13),
        machine="dryer",
        inputs=(DrawEntry(bags.lots[0].code, mass_mg=5 * KG),),
        outputs=(OutputEntry("dried flake", 4_990 * G),),
    )
    return run_record(lead, entry)


@pytest.fixture
def spools(lead, dried):
    entry = RunEntry(
        "extrude",
        START.replace(hour=14),
        START.replace(hour=17),
        machine="extruder",
        inputs=(DrawEntry(dried.lots[0].code, mass_mg=2 * KG),),
        outputs=tuple(OutputEntry("filament", 990 * G, spool=SpoolEntry(1.75)) for _ in range(2)),
    )
    return run_record(lead, entry)


def browser_of(actor) -> Client:
    client = Client()
    client.force_login(
        User.objects.get(memberships__pk=actor.member_id),
        "recycling.web.people.People",
    )
    return client


@pytest.fixture
def at(lead):
    client = browser_of(lead)

    def get(path: str, status: int = 200, **query):
        answer = client.get(f"/w/quay/{path}", query)
        assert answer.status_code == status, answer.content.decode()[:2000]
        return answer

    get.client = client
    return get


def words(lot) -> str:
    return "; ".join((lot.label.what, *lot.label.lines)).replace("\N{NO-BREAK SPACE}", " ")


def test_a_collection_stands_for_its_bags_and_a_run_for_what_it_gave(lead, bags, dried, spools):
    found = labels_of(lead, [bags.code, dried.code, spools.code])
    assert [lot.code for lot in found] == [
        *(lot.code for lot in bags.lots),
        *(lot.code for lot in dried.lots),
        *(lot.code for lot in spools.lots),
    ]
    with refused("lot-unknown"):
        labels_of(lead, ["L999-9"])
    with refused("lot-unknown"):
        labels_of(WorkshopFactory(slug="elsewhere", name="Elsewhere"), [bags.code])


def test_a_label_says_what_it_is_how_much_and_since_when(lead, bags, dried, spools):
    bag = labels_of(lead, [bags.lots[1].code])[0]
    assert words(bag) == f"Flake; PET; Net 5.000 kg; Received 8 Jan 2024 · {bags.code}"
    assert bag.label.caution == ""
    spool = labels_of(lead, [spools.code])[0]
    assert "⌀ 1.75 ± 0.05 mm" in words(spool) and "Net 990 g" in words(spool)
    assert "Quay workshop" in words(spool)
    assert spool.label.caution == "Not for food contact, mouthing toys or medical use."
    assert spool.label.shape == "spool"
    rest = labels_of(lead, [bags.lots[0].code])[0]
    assert "Net 5.000 kg; 0 g left on" in words(rest)


def test_a_dried_batch_says_whether_it_is_sealed_and_for_how_long_it_serves(lead, dried):
    code = dried.lots[0].code
    open_one = words(labels_of(lead, [code])[0])
    assert "Dried until 13:00, 8 Jan 2024, not sealed" in open_one
    assert "Use within 15 min of drying" in open_one
    lot_event(lead, LotEventEntry(code, "sealed", START.replace(hour=13, minute=5)))
    sealed = words(labels_of(lead, [code])[0])
    assert "13:00, 8 Jan 2024, sealed" in sealed and "Use within 15 min of opening" in sealed


def test_the_square_holds_the_address_in_capitals_or_the_bare_code(lead, bags, settings):
    code = bags.lots[0].code
    label = labels_of(lead, [code])[0].label
    assert label.square == f"HTTPS://LEDGER.EXAMPLE.ORG/Q/QUAY/{code}"
    assert read_scan(label.square).code == code
    settings.PUBLIC_ADDRESS = ""
    assert labels_of(lead, [code])[0].label.square == code


def test_the_page_lays_out_and_remembers_sheet_and_shift_for_the_device(at, lead, bags):
    asked = {"sheet": "a4-3x7", "start": "3", "copies": "2", "right_mm": "-1.5", "down_mm": "0,5"}
    page = at("labels/", lots=bags.code, **asked).content.decode()
    assert "labels.pdf?" in page and "page.svg?" in page
    again = at("labels/", lots=bags.code).content.decode()
    assert '<option value="a4-3x7" selected>' in again and 'value="-1.5"' in again
    assert 'name="start" value="1"' in again, "the next sheet may be a whole one"
    other = browser_of(lead).get("/w/quay/labels/", {"lots": bags.code}).content.decode()
    assert '<option value="a4-3x8" selected>' in other


def test_files_are_what_they_say(at, bags):
    query = {"lots": bags.code, "sheet": "62x29", "start": 1}
    pdf = at("labels/labels.pdf", **query)
    assert pdf["Content-Type"] == "application/pdf" and pdf["Cache-Control"] == "no-store"
    with pikepdf.open(io.BytesIO(pdf.content)) as read:
        assert len(read.pages) == 3
    assert at("labels/page.svg", page=3, **query)["Content-Type"] == "image/svg+xml"
    at("labels/page.svg", 404, page=4, **query)
    at("labels/page.svg", 404, page="x", **query)
    printed = at("labels/print/", **query).content.decode()
    assert printed.count("<img") == 3 and "style=" not in printed
    css = at("labels/62x29.css")
    assert css["Content-Type"].startswith("text/css") and "size: 62mm 29mm" in css.content.decode()
    at("labels/9x9.css", 404)
    assert at(f"lots/{bags.lots[0].code}/label.svg").content.startswith(b"<svg")
    led = at(f"lots/{bags.code}/labels/", 302)
    assert led["Location"] == f"/w/quay/labels/?lots={bags.code}"


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ({"lots": "L999-9"}, "There is no lot"),
        ({"start": "99"}, "start at one of them"),
        ({"start": "x"}, "not a whole number"),
        ({"copies": "21"}, "Print 1 to 20 of each"),
        ({"right_mm": "40"}, "Up to 15 mm either way"),
        ({"sheet": "a4-9x9"}, "not one of the available choices"),
    ],
)
def test_what_cannot_be_printed_keeps_what_was_typed(at, bags, query, says):
    asked = {"lots": bags.code, **query}
    page = at("labels/", 422, **asked).content.decode()
    assert says in page and 'id="error-summary"' in page
    assert "labels.pdf" not in page
    readable = not {"x", "a4-9x9"} & set(query.values())
    at("labels/labels.pdf", 302 if readable else 404, **asked)


def test_spools_get_public_addresses_in_one_press(at, lead, spools):
    codes = [one.code for one in spools.lots]
    page = at("labels/", lots=spools.code).content.decode()
    assert "2 spools here have no public address" in page
    form = {"lots": codes, "back": spools.code, "idempotency_key": "one"}
    for _ in range(2):
        answer = at.client.post("/w/quay/labels/links/", form)
        assert answer["Location"] == f"/w/quay/labels/?lots={spools.code}"
    assert PublicLink.objects.count() == 2
    square = labels_of(lead, codes)[0].label.square
    assert square.startswith(f"HTTPS://LEDGER.EXAMPLE.ORG/Q/QUAY/{codes[0]}/")
    opened = Client().get(square.removeprefix("HTTPS://LEDGER.EXAMPLE.ORG"), follow=True)
    assert opened.status_code == 200 and codes[0] in opened.content.decode()
    assert "no public address" not in at("labels/", lots=spools.code).content.decode()


def test_flake_gets_no_public_address_and_no_spool_gets_one_by_half(at, spools, bags):
    codes = [spools.lots[0].code, bags.lots[0].code]
    at.client.post("/w/quay/labels/links/", {"lots": codes, "idempotency_key": "two"})
    assert PublicLink.objects.count() == 0


def test_a_viewer_prints_but_gives_no_addresses(lead, spools):
    viewer = browser_of(MemberFactory(actor=lead, name="Vi", role="viewer"))
    page = viewer.get("/w/quay/labels/", {"lots": spools.code})
    assert page.status_code == 200 and "labels/links/" not in page.content.decode()
    sent = {"lots": [spools.lots[0].code], "idempotency_key": "three"}
    assert viewer.post("/w/quay/labels/links/", sent).status_code == 403


def test_pages_ask_no_more_for_more_lots(at, bags, dried, spools):
    counts = {}
    for codes in ([dried.code, spools.code], [bags.code, dried.code, spools.code]):
        for path in ("labels/", "labels/print/"):
            at(path, lots=",".join(codes))
            with CaptureQueriesContext(connection) as asked:
                at(path, lots=",".join(codes))
            assert len(asked) <= 12, [query["sql"][:90] for query in asked.captured_queries]
            assert counts.setdefault(path, len(asked)) == len(asked)
    with CaptureQueriesContext(connection) as asked:
        at("labels/")
    assert len(asked) <= 12


def test_lists_and_pages_lead_to_labels(at, bags, dried):
    stock = at("stock/").content.decode()
    assert stock.count('name="lots"') == stock.count("Label of ") > 0
    assert 'id="labels-picked"' in stock
    for path in (f"lots/{bags.lots[0].code}/", f"runs/{dried.code}/", f"collections/{bags.code}/"):
        assert "/labels/" in at(path).content.decode(), path


@pytest.mark.slow
def test_five_hundred_codes_make_no_address_that_a_server_refuses(lead, client):
    """gunicorn takes a request line of up to 4,094 bytes unless told otherwise (its settings)."""
    entries = tuple(BagEntry(KG, form="flake", polymer="PET") for _ in range(100))
    lots = [
        lot.code
        for _turn in range(5)
        for lot in OriginFactory(actor=lead, happened_at=START, bags=entries).lots
    ]
    client.force_login(User.objects.get(memberships__pk=lead.member_id))
    sent = {"lots": " ".join(lots), "sheet": "a4-3x8", "start": "3", "copies": "1"}
    led = client.post("/w/quay/labels/choose/", sent)
    page = client.get(led["Location"])
    laid = page.context["laid"]
    assert [lot.code for lot in page.context["lots"]] == lots
    assert len(laid.pages) == 21, "502 places, 24 a page"
    addresses = [led["Location"], laid.pdf, laid.on_screen, *laid.pages]
    longest = max(len(f"GET {address} HTTP/1.1\r\n") for address in addresses)
    assert longest < 4094 and "lots=" not in laid.pdf
    pdf = pikepdf.open(io.BytesIO(client.get(laid.pdf).content))
    assert len(pdf.pages) == 21
    assert client.get(laid.pages[20]).status_code == 200
    shown = client.get(laid.on_screen)
    assert shown.content.count(b"label-paper") >= 21
    few = client.post("/w/quay/labels/choose/", {"lots": lots[:3], "copies": "2"})
    assert few["Location"] == f"/w/quay/labels/?lots={'%2C'.join(lots[:3])}&copies=2"
    other = Client()
    other.force_login(User.objects.get(memberships__pk=lead.member_id))
    assert other.get(laid.pdf).status_code == 302, "a choice is of one session"
