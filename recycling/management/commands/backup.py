"""Back up the whole service."""

from __future__ import annotations

import shutil
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from recycling.keeping.names import write_erasures
from recycling.management.backup_signature import SIGNATURE
from recycling.management.backups import backup_make, older_than
from shared.errors import Refused


class Command(BaseCommand):
    """Say where the backup is and what it holds; older ones go only once it is whole."""

    help = "Back up the database into a new folder inside FOLDER, while the service runs."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path)
        parser.add_argument(
            "--keep", type=int, metavar="N", help="remove whole backups there beyond the newest N"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        keep: int | None = options["keep"]
        if keep is not None and keep < 1:
            raise CommandError("--keep takes 1 or more.")
        try:
            write_erasures(settings.ERASURES_FILE)
            made, manifest = backup_make(folder)
            gone = older_than(folder, keep) if keep else []
            for old in gone:
                shutil.rmtree(old)
        except Refused as refused:
            raise CommandError(f"Nothing was backed up. {refused}") from refused
        except OSError as error:
            raise CommandError(f"{error.filename or folder}: {error.strerror}.") from error
        signed = "signed" if (made / SIGNATURE).exists() else "not signed"
        self.stdout.write(f"Backed up {manifest.postings} postings into {made}, {signed}.")
        for old in gone:
            self.stdout.write(f"  removed {old}")
