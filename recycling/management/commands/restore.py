"""Put a backup of the whole service back."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from recycling.management.backups import SIGNED, backup_restore
from recycling.services.people.erasures import erasures_replay
from shared.errors import Refused


class Command(BaseCommand):
    """Say what was put back; exits 1 when the audit finds anything."""

    help = "Put the backup in FOLDER into the empty database of the settings; ends with the audit."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="one backup: the folder with manifest.json")
        parser.add_argument(
            "--erasures",
            type=Path,
            default=settings.ERASURES_FILE,
            help="who was erased; they are erased again (ERASURES_FILE where not given)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            manifest, signed, same = backup_restore(options["folder"])
        except Refused as refused:
            raise CommandError(f"Nothing was put back. {refused}") from refused
        except OSError as error:
            raise CommandError(f"{error.filename}: {error.strerror}.") from error
        if not same:
            raise CommandError("What was put back has other postings than were backed up.")
        call_command("migrate", verbosity=0)
        self.stdout.write(SIGNED[signed])
        self._erase_again(options["erasures"])
        self.stdout.write(
            f"Put back {manifest.postings} postings as of {manifest.made_at}; the audit says:"
        )
        call_command("audit", stdout=self.stdout, stderr=sys.stderr)

    def _erase_again(self, path: Path) -> None:
        if not path.exists():
            self.stdout.write(f"No file of erasures at {path}; nobody was erased again.")
            return
        try:
            count = erasures_replay(path)
        except (ValueError, TypeError) as error:
            raise CommandError(
                f"{path} is no file of erasures. Nobody was erased again."
            ) from error
        self.stdout.write(f"Erased again: {count}.")
