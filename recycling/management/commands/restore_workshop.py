"""Put a workshop back from its archive."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from tqdm import tqdm

from recycling.services.integrity.archive_restore import workshop_restore
from recycling.tables.integrity import open_archive
from shared.errors import Refused


class Command(BaseCommand):
    """Say what was put back and who needs a password; or what is wrong with the file."""

    help = (
        "Put a workshop back from FILE into this service, which must be empty; ends with the audit."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--slug", default="", help="another short name than it had")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        try:
            with open_archive(file) as archive:
                done = workshop_restore(archive, options["slug"], self._progress)
        except Refused as refused:
            raise CommandError(f"{file.name}: nothing was put back. {refused}") from refused
        except OSError as error:
            raise CommandError(f"{file}: {error.strerror}.") from error
        self.stdout.write(
            f"Put back “{done.name}” as {done.slug}: {done.facts} facts, {done.sequence} entries;"
            " the audit finds nothing."
        )
        for username in done.usernames:
            self.stdout.write(f"  needs a password: manage.py changepassword {username}")

    def _progress(self, names: Iterable[str]) -> Iterable[str]:
        return tqdm(names, desc="putting back", unit=" kinds", file=sys.stderr)
