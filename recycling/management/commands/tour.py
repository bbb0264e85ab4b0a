"""Take the screenshots of docs/tour from a demo of its own, and write the page that shows them."""

from __future__ import annotations

import io
import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from PIL import Image

from recycling.demo import cast
from recycling.management.tour_scenes import DESK, PHONE, SCENES, Scene

FOLDER = Path(settings.ROOT) / "docs" / "tour"
BROWSERS = ("/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
]
SIZES = {PHONE: (390, 844), DESK: (1280, 860)}
COLOURS = 128


class Command(BaseCommand):
    """Make a demo in a folder of its own, serve it, and photograph every scene."""

    help = "Take the screenshots of docs/tour anew. Needs Chromium and the development extra."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--only", default="", help="key of one scene")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            from playwright.sync_api import sync_playwright
        except ImportError as missing:
            raise CommandError("The tour needs playwright: install requirements-dev.") from missing
        browser = next((path for path in BROWSERS if Path(path).exists()), None)
        if browser is None:
            raise CommandError("The tour needs Chromium; install the package chromium.")
        wanted = [scene for scene in SCENES if options["only"] in ("", scene.key)]
        if not wanted:
            raise CommandError(f"There is no scene “{options['only']}”.")
        FOLDER.mkdir(parents=True, exist_ok=True)
        with _demo_served() as address, sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=browser, args=FLAGS)
            for scene in wanted:
                self.stdout.write(f"{scene.key}: {_photograph(chromium, address, scene)} bytes")
            chromium.close()
        (FOLDER / "README.md").write_text(page())


def page() -> str:
    """Write the page that shows the pictures in the order of the work."""
    parts = ["# A tour in pictures\n\nMade by `manage.py tour` from the demo.\n"]
    for scene in SCENES:
        parts.append(f"## {scene.title}\n\n{scene.words}\n\n![{scene.alt}]({scene.key}.png)\n")
    return "\n".join(parts)


@contextmanager
def _demo_served() -> Iterator[str]:
    with tempfile.TemporaryDirectory() as folder, socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        more = {
            "DATA_DIR": folder,
            "DATABASE_URL": "",
            "REDIS_URL": "",
            "SERVE_UNHASHED_STATIC": "1",
        }
        environment = os.environ | more
        program = [
            sys.executable,
            str(Path(settings.ROOT) / "manage.py"),
            "demo",
            "--port",
            str(port),
        ]
        server = subprocess.Popen(program, env=environment, cwd=settings.ROOT)
        address = f"http://127.0.0.1:{port}"
        try:
            _wait(address, server)
            yield address
        finally:
            server.terminate()
            server.wait()


def _wait(address: str, server: subprocess.Popen[bytes]) -> None:
    for _ in range(600):
        if server.poll() is not None:
            raise CommandError("The demo did not start.")
        try:
            with urllib.request.urlopen(f"{address}/healthz", timeout=1):
                return
        except OSError:
            time.sleep(0.5)
    raise CommandError("The demo did not start within five minutes.")


def _photograph(chromium: Any, address: str, scene: Scene) -> int:
    width, height = SIZES[scene.device]
    context = chromium.new_context(
        viewport={"width": width, "height": height},
        color_scheme=scene.scheme,
        locale="en-GB",
        device_scale_factor=1.5 if scene.device == PHONE else 1,
    )
    shown = context.new_page()
    shown.goto(f"{address}/sign-in/")
    shown.fill("input[name=username]", cast.WORKSHOP.username)
    shown.fill("input[name=password]", cast.PASSWORD)
    shown.click("main button[type=submit], main button:not([type])")
    shown.goto(f"{address}/w/{cast.WORKSHOP.slug}/{scene.path}")
    for step in scene.steps:
        step(shown)
    shown.wait_for_load_state("networkidle")
    raw = shown.screenshot(full_page=scene.whole)
    context.close()
    picture = Image.open(io.BytesIO(raw)).convert("RGB").quantize(COLOURS)
    picture.save(FOLDER / f"{scene.key}.png", optimize=True)
    return (FOLDER / f"{scene.key}.png").stat().st_size
