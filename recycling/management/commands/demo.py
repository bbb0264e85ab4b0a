"""Make the demo and serve it on this computer."""

from __future__ import annotations

import os
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from tqdm import tqdm

from recycling.demo import cast
from recycling.demo.season import make_season
from shared.errors import Refused

PORT = 8000


class Command(BaseCommand):
    """Migrate, make a season of an invented workshop once, print how to sign in, and serve."""

    help = "Make the demo (once) and serve it on this computer; PORT or --port say where."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="make it and stop")
        parser.add_argument("--port", type=int, default=None, help=f"default: PORT, else {PORT}")

    def handle(self, *args: Any, **options: Any) -> None:
        port = _port(options["port"])
        call_command("migrate", verbosity=0, interactive=False)
        try:
            made = make_season(timezone.now(), self._progress)
        except Refused as refused:
            raise CommandError(f"The demo could not be made: {refused}") from refused
        self.stdout.write("The demo is ready." if made else "The demo is here already.")
        self.stdout.write(
            f"  address   http://127.0.0.1:{port}/\n"
            f"  sign in   {cast.WORKSHOP.username}, {' or '.join(m.username for m in cast.MEMBERS)}"
            f" with the password {cast.PASSWORD}\n"
            f"  workshops “{cast.WORKSHOP.name}” and “{cast.SECOND.name}”"
        )
        if not options["no_serve"]:
            self.stdout.write("Stop it with Ctrl+C.")
            self.stdout.flush()
            serve(port)

    def _progress(self, days: Any) -> Any:
        return tqdm(days, desc="making the season", unit=" days", file=sys.stderr)


def _port(given: int | None) -> int:
    text = os.environ.get("PORT", str(PORT)) if given is None else str(given)
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 65536):
        raise CommandError(f"“{text}” is no port; choose a number from 1 to 65535.")
    return int(text)


def serve(port: int) -> None:
    """Become the server: loopback only, static files straight from the sources."""
    Path(settings.STATIC_ROOT).mkdir(parents=True, exist_ok=True)
    environment = os.environ | {"SERVE_UNHASHED_STATIC": "1"}
    program = [sys.executable, "-m", "gunicorn", "recycling.wsgi:application"]
    program += ["--bind", f"127.0.0.1:{port}", "--threads", "8", "--log-level", "warning"]
    program += ["--limit-request-line", "8190"]
    program += ["--chdir", str(settings.ROOT)]
    os.execve(sys.executable, program, environment)
