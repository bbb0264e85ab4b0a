"""All facts of a workshop, read in one snapshot to be written into an archive."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from typing import IO, Any
from uuid import UUID

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Field
from django.utils import timezone

from recycling.ledger.snapshots import snapshot
from recycling.models import Member, Workshop
from recycling.models.archived import ARCHIVED, ArchivedKind
from recycling.tables.integrity import PEOPLE, write_archive

ROWS_AT_ONCE = 2_000
APPS = ("ledger", "recycling")

Parts = Iterator[tuple[str, Iterator[bytes]]]


def member_name(place: int, kind: ArchivedKind) -> str:
    """Name the file of a kind of fact; the number is the order in which they are put back."""
    return f"facts/{place:03}_{kind.name}.jsonl"


def service_version() -> dict[str, str]:
    """Name the last migration of each application: what the shape of the facts goes by."""
    applied = MigrationRecorder(connection).applied_migrations()
    return {app: max(name for of, name in applied if of == app) for app in APPS}


@contextmanager
def archived(workshop_id: int, people: bool = True) -> Iterator[tuple[dict[str, Any], Parts]]:
    """Read what an archive says of itself, and its parts, while the snapshot is open."""
    with snapshot():
        workshop = Workshop.objects.select_related("book").get(pk=workshop_id)
        about = {
            "workshop": {
                "identity": str(workshop.identity),
                "slug": workshop.slug,
                "name": workshop.name,
            },
            "sequence": workshop.book.last_sequence,
            "archived_at": timezone.now().isoformat(),
            "service": service_version(),
        }
        yield about, _parts(workshop_id, people)


def archive_into(workshop_id: int, out: IO[bytes], people: bool = True) -> tuple[int, int]:
    """Write a workshop's archive; return how many facts it holds and up to which entry."""
    with archived(workshop_id, people) as (about, parts):
        return write_archive(out, about, parts), about["sequence"]


def _parts(workshop_id: int, people: bool) -> Parts:
    for place, kind in enumerate(ARCHIVED):
        yield member_name(place, kind), _rows(workshop_id, kind)
    if people:
        yield PEOPLE, _people(workshop_id)


def _rows(workshop_id: int, kind: ArchivedKind) -> Iterator[bytes]:
    names = [field.attname for field in kind.fields]
    rows = kind.model._base_manager.filter(**{kind.way: workshop_id}).order_by("pk")
    for row in rows.values_list(*names).iterator(ROWS_AT_ONCE):
        yield _line(dict(zip(names, map(plain, row), strict=True)))


def _people(workshop_id: int) -> Iterator[bytes]:
    rows = Member.objects.filter(workshop_id=workshop_id).order_by("pk")
    for reference, name, username in rows.values_list("reference", "name", "user__username"):
        yield _line({"reference": str(reference), "name": name, "username": username})


def _line(said: dict[str, Any]) -> bytes:
    text = json.dumps(said, ensure_ascii=False, allow_nan=False, sort_keys=True)
    return text.encode() + b"\n"


def plain(value: Any) -> Any:
    """Write a stored value as JSON has it; bytes in base 64."""
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode()
    return value


def stored(field: Field, value: Any) -> Any:
    """Read a value back as its field has it.

    Raises
    ------
    ValueError, TypeError
        When it cannot be one.
    """
    if value is None:
        return None
    kind = field.get_internal_type()
    if kind == "DateTimeField":
        at = datetime.fromisoformat(value)
        if at.tzinfo is None:
            raise ValueError("a time without offset")
        return at
    if kind == "BinaryField":
        return base64.b64decode(value, validate=True)
    if kind == "JSONField":
        return value
    return field.to_python(value)
