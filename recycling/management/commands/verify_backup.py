"""Check a backup without putting it back."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.management.backups import SIGNED, backup_check
from shared.errors import Refused


class Command(BaseCommand):
    """Say whether it is whole and by whom it is signed; needs no database."""

    help = "Check the signature and the digests of the backup in FOLDER."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="one backup: the folder with manifest.json")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            manifest, signed = backup_check(options["folder"])
        except Refused as refused:
            raise CommandError(f"Do not put this back. {refused}") from refused
        except OSError as error:
            raise CommandError(f"{error.filename}: {error.strerror}.") from error
        self.stdout.write(
            f"Whole: {manifest.postings} postings as of {manifest.made_at}. {SIGNED[signed]}"
        )
