"""Scanning in a real browser: a camera, a photo, and a scanner that types, on printed labels."""

from __future__ import annotations

import io
from pathlib import Path

import numpy
import pytest
from django.test import Client
from PIL import Image

from recycling.figures.labels import labels_png
from recycling.models import User
from recycling.queries.labels.labels import labels_of
from recycling.records.labels.labels import Label, LabelPrint
from recycling.records.lots.origin_entries import BagEntry
from tests.factories import KG, START, OriginFactory, WorkshopFactory
from tests.web.browsers import ARGS, CHROMIUM

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
FAST_MS, SLOW_MS = 5, 90
WAIT_MS = 60_000
KEYS_APART = """apart => {
    if (self.keysApart === undefined) {
        let at = 0;
        addEventListener('keydown', () => { at += self.keysApart; }, {capture: true});
        Object.defineProperty(KeyboardEvent.prototype, 'timeStamp', {get: () => at});
    }
    self.keysApart = apart;
}"""
"""The reader is a megabyte of WebAssembly that a busy machine compiles in its own time."""


@pytest.fixture
def lead(settings):
    settings.PUBLIC_ADDRESS = "https://ledger.example.org"
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    return WorkshopFactory(slug="quay", name="Quay workshop", zone="Europe/Lisbon")


@pytest.fixture
def lots(lead):
    bags = tuple(BagEntry(5 * KG, form="flake", polymer="PET") for _ in range(3))
    return [lot.code for lot in OriginFactory(actor=lead, happened_at=START, bags=bags).lots]


def printed(actor, code: str) -> Image.Image:
    """Draw a label as a printer of 203 dots to the inch would."""
    (found,) = labels_of(actor, [code])
    (png,) = labels_png([found.label], LabelPrint("62x29"), "t", 203)
    return Image.open(io.BytesIO(png)).convert("RGB")


def on_a_bench(label: Image.Image, turn: float = 8) -> Image.Image:
    """Photograph a label: on a brown bench, a little turned."""
    scene = Image.new("RGB", (960, 720), (120, 96, 70))
    turned = label.rotate(turn, expand=True, fillcolor=(120, 96, 70), resample=Image.BICUBIC)
    scene.paste(turned, (180, 190))
    return scene


def as_film(picture: Image.Image, path: Path, frames: int = 12) -> Path:
    """Write a picture as a film of YUV4MPEG2, which Chromium takes for a camera."""
    luma, blue, red = picture.resize((640, 480)).convert("YCbCr").split()
    halved = [numpy.asarray(part.resize((320, 240))).tobytes() for part in (blue, red)]
    frame = b"FRAME\n" + numpy.asarray(luma).tobytes() + b"".join(halved)
    path.write_bytes(b"YUV4MPEG2 W640 H480 F10:1 Ip A1:1 C420jpeg\n" + frame * frames)
    return path


@pytest.fixture
def browse(live_server, lead):
    """Return a function that opens a signed-in page, with a film for a camera if one is given."""
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as started:
        opened = []

        def at(film: Path | None = None, allowed: bool = True):
            more = []
            if film:
                more = ["--use-fake-device-for-media-stream"]
                more += [f"--use-file-for-fake-video-capture={film}"]
            browser = started.chromium.launch(executable_path=CHROMIUM, args=ARGS + more)
            opened.append(browser)
            context = browser.new_context(
                base_url=f"{live_server.url}/w/quay/",
                viewport={"width": 360, "height": 800},
                permissions=["camera"] if film and allowed else [],
            )
            context.set_default_timeout(WAIT_MS)
            signed_in = Client()
            signed_in.force_login(User.objects.get(memberships__pk=lead.member_id))
            cookie = signed_in.cookies["sessionid"].value
            context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
            page = context.new_page()
            page.said = []
            page.on("pageerror", lambda error: page.said.append(str(error)))
            page.on(
                "console",
                lambda line: page.said.append(line.text) if line.type == "error" else None,
            )
            page.on(
                "request",
                lambda sent: (
                    None
                    if sent.url.startswith((live_server.url, "data:", "blob:"))
                    else page.said.append(sent.url)
                ),
            )
            return page

        yield at
        for browser in opened:
            browser.close()


def typed(page, text: str, apart_ms: int) -> None:
    """Type with so much between the keys, by the clock that the page reads from them."""
    page.evaluate(KEYS_APART, apart_ms)
    page.keyboard.type(text)


def test_a_label_before_the_camera_opens_its_lot(browse, lead, lots, tmp_path):
    page = browse(as_film(on_a_bench(printed(lead, lots[1])), tmp_path / "label.y4m"))
    page.goto("find/")
    policy = page.request.get("find/").headers["content-security-policy"]
    assert "wasm" not in policy and "unsafe" not in policy
    page.click("[data-scan-start]")
    page.wait_for_url(f"**/w/quay/lots/{lots[1]}/")
    assert not page.said


def test_a_photo_of_a_label_opens_its_lot(browse, lead, lots, tmp_path):
    photo = tmp_path / "label.jpg"
    on_a_bench(printed(lead, lots[2]), turn=25).resize((2880, 2160)).save(photo, quality=80)
    page = browse()
    page.goto("find/")
    page.set_input_files("[data-scan-photo]", str(photo))
    page.wait_for_url(f"**/w/quay/lots/{lots[2]}/")
    assert not page.said


def test_a_photo_without_a_square_says_so(browse, lots, tmp_path):
    blank, broken = tmp_path / "blank.png", tmp_path / "broken.png"
    Image.new("RGB", (300, 300), (200, 180, 160)).save(blank)
    broken.write_bytes(b"no picture")
    page = browse()
    page.goto("find/")
    page.set_input_files("[data-scan-photo]", str(blank))
    page.wait_for_selector(".scan-said:has-text('No square code was found')")
    page.set_input_files("[data-scan-photo]", str(broken))
    page.wait_for_selector(".scan-said:has-text('no picture')")


def test_a_refused_camera_says_what_else_there_is(browse, lead, lots, tmp_path):
    film = as_film(on_a_bench(printed(lead, lots[0])), tmp_path / "label.y4m")
    page = browse(film, allowed=False)
    page.goto("find/")
    page.click("[data-scan-start]")
    page.wait_for_selector(".scan-said:has-text('type the code')")


def test_without_a_secure_address_the_page_says_what_is_missing(browse, lots):
    page = browse()
    page.add_init_script("Object.defineProperty(window, 'isSecureContext', {value: false})")
    page.goto("find/")
    page.click("[data-scan-start]")
    page.wait_for_selector(".scan-said:has-text('begins with https')")


@pytest.mark.parametrize("ending", ["Enter", "Tab"])
@pytest.mark.parametrize("whole", [True, False])
def test_a_scanner_that_types_opens_the_lot(browse, lead, lots, ending, whole):
    (found,) = labels_of(lead, [lots[0]])
    page = browse()
    page.goto("find/")
    assert page.evaluate("document.activeElement.id") == "find-code"
    typed(page, found.label.square if whole else lots[0].lower(), FAST_MS)
    page.keyboard.press(ending)
    page.wait_for_url(f"**/w/quay/lots/{lots[0]}/")


def test_a_hand_that_types_and_tabs_is_left_alone(browse, lots):
    page = browse()
    page.goto("find/")
    page.evaluate("addEventListener('submit', () => { self.sent = true; })")
    typed(page, lots[0], SLOW_MS)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") != "find-code"
    assert page.evaluate("self.sent") is None, "a form is sent as the key is pressed, or not at all"
    page.focus("#find-code")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/w/quay/lots/{lots[0]}/")


def test_another_workshops_label_fills_no_field(browse, lead, lots, tmp_path):
    """In a field that stands among others, only this workshop's labels are taken."""
    page = browse()
    page.goto("find/")
    page.evaluate("delete document.querySelector('[data-scan]').dataset.submit")
    typed(page, f"HTTPS://LEDGER.EXAMPLE.ORG/Q/ELSEWHERE/{lots[0]}", FAST_MS)
    page.keyboard.press("Enter")
    page.wait_for_selector(".scan-said:has-text('another workshop')")
    page.fill("#find-code", "")
    typed(page, f"HTTPS://LEDGER.EXAMPLE.ORG/Q/QUAY/{lots[0]}", FAST_MS)
    page.keyboard.press("Enter")
    page.wait_for_selector(".scan-said:has-text('Scanned')")
    assert page.input_value("#find-code") == lots[0]
    assert page.url.endswith("/find/")


def test_a_list_is_chosen_from_and_what_is_not_in_it_is_said(browse, lots):
    page = browse()
    page.goto("find/")
    page.evaluate(
        """([one, two]) => {
            const input = document.getElementById('find-code');
            const list = document.createElement('select');
            list.id = input.id;
            for (const code of ['', one, two]) list.add(new Option(code, code));
            input.replaceWith(list);
            delete document.querySelector('[data-scan]').dataset.submit;
        }""",
        lots[:2],
    )
    for code, said in ((lots[1], "Scanned"), (lots[2], "cannot be chosen here")):
        picture = {"name": "l.png", "mimeType": "image/png", "buffer": printed_png(code)}
        page.set_input_files("[data-scan-photo]", picture)
        page.wait_for_selector(f".scan-said:has-text('{said}')")
        assert page.input_value("#find-code") == lots[1]


def printed_png(code: str) -> bytes:

    label = Label(code, "flake", code, "Flake", ())
    return labels_png([label], LabelPrint("62x29"), "t", 203)[0]
