"""Archives that were asked for: listed, followed while they are made, fetched until they expire."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.utils import timezone

from recycling.models import WorkshopArchive
from recycling.queries.people.names import Names
from recycling.records.actors import Actor
from recycling.records.integrity import ArchiveRow
from shared.errors import Unknown

EXPIRED = "expired"
MOST_LISTED = 20


def archive_place(archive: WorkshopArchive) -> Path:
    """Give where an archive's file lies; nobody can guess its name."""
    return Path(settings.DATA_DIR) / "archives" / f"{archive.workshop_id}-{archive.token}.zip"


def archives_made(actor: Actor) -> list[ArchiveRow]:
    """List the latest archives, the newest first."""
    rows = WorkshopArchive.objects.filter(workshop_id=actor.workshop_id).order_by("-number")
    names = Names(actor.workshop_id)
    return [_row(actor, one, names) for one in rows[:MOST_LISTED]]


def archive_made(actor: Actor, number: int) -> ArchiveRow:
    """Show how far an archive is.

    Raises
    ------
    Unknown
        When there is none of that number in this workshop.
    """
    return _row(actor, _named(actor, number), Names(actor.workshop_id))


def archive_file(actor: Actor, number: int) -> tuple[str, Path]:
    """Give the name of an archive's file, and where it lies.

    Raises
    ------
    Unknown
        When there is no such archive in this workshop, it is not ready, or its file is gone.
    """
    archive = _named(actor, number)
    place = archive_place(archive)
    if _state(archive) != WorkshopArchive.READY or not place.exists():
        raise Unknown.because(
            "archive-not-there", "This archive is not ready, or its file is gone; ask for another."
        )
    return _name(actor, archive), place


def _named(actor: Actor, number: int) -> WorkshopArchive:
    found = WorkshopArchive.objects.filter(workshop_id=actor.workshop_id, number=number).first()
    if found is None:
        raise Unknown.because("archive-unknown", "There is no such archive in this workshop.")
    return found


def _state(archive: WorkshopArchive) -> str:
    over = archive.expires_at is not None and archive.expires_at <= timezone.now()
    return EXPIRED if over else archive.state


def _name(actor: Actor, archive: WorkshopArchive) -> str:
    return f"{actor.slug}-{archive.asked_at.date().isoformat()}-{archive.number}.zip"


def _row(actor: Actor, one: WorkshopArchive, names: Names) -> ArchiveRow:
    return ArchiveRow(
        number=one.number,
        state=_state(one),
        step=one.step,
        done_share=one.done_share,
        failure=one.failure,
        people=one.people,
        asked_at=one.asked_at,
        asked_by=names.of(one.asked_by),
        made_at=one.made_at,
        expires_at=one.expires_at,
        facts=one.facts,
        sequence=one.sequence,
        size_bytes=one.size_bytes,
        digest=one.digest,
        name=_name(actor, one),
    )
