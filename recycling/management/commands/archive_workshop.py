"""Write a whole workshop into one file."""

from __future__ import annotations

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.queries.integrity.archive_facts import archive_into
from recycling.queries.people.workshops import workshop_id_of
from shared.errors import Refused


class Command(BaseCommand):
    """Say how much was written; a file that is there already is not touched."""

    help = "Write all facts of a workshop into FILE; the form is in docs/reference/archive.md."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("workshop", metavar="SLUG")
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--without-people", action="store_true", help="leave names and account names out"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        draft = file.with_name(f"{file.name}.{os.getpid()}.part")
        if file.exists():
            raise CommandError(f"{file} is there already.")
        try:
            workshop_id = workshop_id_of(options["workshop"])
            with draft.open("xb") as out:
                rows, sequence = archive_into(workshop_id, out, not options["without_people"])
                out.flush()
                os.fsync(out.fileno())
            draft.rename(file)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        except OSError as error:
            raise CommandError(f"{file}: {error.strerror}.") from error
        finally:
            draft.unlink(missing_ok=True)
        self.stdout.write(
            f"Wrote {rows} facts up to entry {sequence} into {file}, {file.stat().st_size} bytes."
        )
