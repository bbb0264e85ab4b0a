"""Say whether a file is one of a report's, without the server and without a database."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.records.reports.files import CHANGED, GENUINE, INTACT, NONE, OPEN, FileCheck
from recycling.reports.file_checks import file_check
from recycling.tables.reports.read import LARGEST

SAID = {
    GENUINE: "Genuine: every byte is what this program makes of the figures below.",
    INTACT: "Figures intact: those that it carries have the SHA-256 below. The file has"
    " another layout than this version sets, so how they are printed could not be compared: trust"
    " the figures attached, or verify it with the version that made it, or at its public address.",
    CHANGED: "NOT as it was made. What differs:",
    OPEN: "Not decided: this kind of file does not carry all figures. Give the report's JSON file"
    " with --against to hold it to them. A spreadsheet of another layout than this version sets"
    " can be verified only with the version that made it, or at the report's public address.",
    NONE: "This is no file of a report, or another program saved it anew.",
}
STATUS = {GENUINE: 0, CHANGED: 1, NONE: 1, OPEN: 2, INTACT: 3}


class Command(BaseCommand):
    """Print what the file says and carries, and the verdict; the exit status is 0 for genuine."""

    help = (
        "Verify a file of a report (PDF, spreadsheet, CSV, JSON or page) without the server and"
        " without a database. Exits 0 when it is genuine, 1 when it is not, 2 when it cannot be"
        " decided, 3 when its figures are intact but it has another layout than is set today."
        " Compare the SHA-256 of the figures with one that you got another way."
    )
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--against", type=Path, metavar="JSON", help="the report's JSON file, kept apart"
        )
        parser.add_argument(
            "--digest", default="", metavar="SHA-256", help="as it was printed or published"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        held = _read(options["file"])
        against = _read(options["against"]) if options["against"] else b""
        try:
            found = file_check(held, against.decode(), options["digest"].strip().lower())
        except ValueError as error:
            raise CommandError(f"{options['against']}: {error}") from error
        self.stdout.write("\n".join(_lines(found)))
        if STATUS[found.verdict]:
            sys.exit(STATUS[found.verdict])


def _read(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST:
            raise CommandError(f"{path} is larger than any file of a report.")
        return path.read_bytes()
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}.") from error


def _lines(found: FileCheck) -> list[str]:
    facts = [
        ("file", found.kind.upper() or "none of a report's"),
        ("report", found.report),
        ("workshop", found.workshop),
        ("SHA-256 it says", found.says_digest),
        ("SHA-256 of the figures", found.digest),
        ("SHA-256 of the file", found.file_digest),
    ]
    lines = [SAID[found.verdict], *(f"  - {one}" for one in found.differences)]
    return [*lines, *(f"{label}: {value}" for label, value in facts if value)]
