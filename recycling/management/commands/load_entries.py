"""Load a file of entries into a workshop, all or nothing."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.text import slugify
from tqdm import tqdm

from recycling.tables.lists.entries_file import read_entries
from recycling.tasks.lists.load import entries_load
from shared.errors import Refused

MOST_SHOWN = 20


class Command(BaseCommand):
    """Say what was loaded, or which entry is wrong."""

    help = (
        "Record all entries of a JSON file, or none of them. The form of the file is described"
        " in docs/reference/entries_file.md."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--workshop", metavar="SLUG", help="default: the file's name")
        parser.add_argument(
            "--append", action="store_true", help="load on top of a book that is not empty"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        slug = options["workshop"] or slugify(file.stem)
        try:
            entries = read_entries(_text(file))
            loaded = entries_load(slug, entries, self._progress, options["append"])
        except Refused as refused:
            raise CommandError(_said(file, refused)) from refused
        self.stdout.write(
            f"Recorded {len(entries)} entries with {len(loaded.codes)} lots in “{slug}”."
        )
        if loaded.opened:
            self.stdout.write(
                f"The workshop is new; its lead signs in as “{slug}-lead” once a password is set"
                f" with: manage.py changepassword {slug}-lead"
            )

    def _progress(self, entries: Any) -> Any:
        return tqdm(entries, desc="recording", unit=" entries", file=sys.stderr)


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise CommandError(f"{file}: not UTF-8 text (byte {error.start}).") from error
    except OSError as error:
        raise CommandError(f"{file}: {error.strerror}.") from error


def _said(file: Path, refused: Refused) -> str:
    lines = [f"{file.name}: nothing was recorded."]
    for problem in refused.problems[:MOST_SHOWN]:
        lines.append(f"  {problem.pointer or 'file'}: {problem.detail}")
    if more := len(refused.problems) - MOST_SHOWN:
        lines += [f"  … and {more} more."] if more > 0 else []
    return "\n".join(lines)
