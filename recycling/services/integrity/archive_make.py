"""Ask for an archive of the workshop, and make it in the background."""

from __future__ import annotations

import hashlib
import os
import secrets
from datetime import timedelta
from functools import partial
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from recycling import jobs
from recycling.keeping.background import failures_told, job_done, job_waiting, refuse_spent
from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.expired_files import archives_clear
from recycling.models import WorkshopArchive
from recycling.queries.integrity.archive_facts import archive_into
from recycling.queries.integrity.archives import archive_place
from recycling.records.actors import Actor
from recycling.records.integrity import ArchiveEntry
from recycling.tables.integrity import open_archive

TASK = "recycling.make_archive"
BROKE = "Something broke on our side while it was made. Ask for it again."
PIECE = 2**20


@deed("manage")
def archive_ask(actor: Actor, entry: ArchiveEntry) -> int:
    """Note that an archive is wanted and start the job; return the number it is found under.

    One that is being made with the same content stands for it.
    """
    archives = WorkshopArchive.objects.filter(workshop_id=actor.workshop_id)
    going_on = archives.filter(state=WorkshopArchive.MAKING, people=entry.people).first()
    if going_on is not None:
        return going_on.number
    asked = WorkshopArchive.objects.create(
        workshop_id=actor.workshop_id,
        number=(archives.aggregate(last=Max("number"))["last"] or 0) + 1,
        token=secrets.token_hex(16),
        people=entry.people,
        asked_at=timezone.now(),
        asked_by=actor.reference,
    )
    said = {"people": entry.people}
    keep_change(actor, f"archive {asked.number}", "ask archive", {}, said)
    jobs.start(actor.workshop_id, TASK, archive=asked.pk)
    return asked.number


def archive_make(job_id: int) -> bool:
    """Do the work of a job; one that is done or gone is left. Returns whether it was done now.

    What was written is read again as one that is put back would be, before it counts.

    Raises
    ------
    OperationalError, InterfaceError, Unavailable
        When the database is away; the job stays and is sent again.
    """
    job = job_waiting(job_id)
    asked = job and WorkshopArchive.objects.filter(pk=job.arguments["archive"]).first()
    if job is None or not asked:
        return False
    draft = archive_place(asked).with_suffix(f".zip.{os.getpid()}-{job_id}.part")
    try:
        with failures_told(partial(_fail, asked), BROKE, archive=asked.number):
            refuse_spent(job)
            if asked.state == WorkshopArchive.MAKING:
                archives_clear()
                _make(asked, draft)
    finally:
        draft.unlink(missing_ok=True)
    job_done(job)
    return True


def _make(asked: WorkshopArchive, draft: Path) -> None:
    draft.parent.mkdir(parents=True, exist_ok=True)
    _progress(asked, "writing", 0.1)
    with os.fdopen(os.open(draft, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600), "w+b") as out:
        facts, sequence = archive_into(asked.workshop_id, out, asked.people)
        out.flush()
        os.fsync(out.fileno())
        _progress(asked, "checking", 0.7)
        with open_archive(out):
            digest = _digest(draft)
    size_bytes, now = draft.stat().st_size, timezone.now()
    with transaction.atomic():
        now_asked = WorkshopArchive.objects.select_for_update().get(pk=asked.pk)
        if now_asked.state != WorkshopArchive.MAKING:
            return  # it was made meanwhile, and its digest is that of the other file
        draft.replace(archive_place(asked))
        WorkshopArchive.objects.filter(pk=asked.pk).update(
            state=WorkshopArchive.READY,
            step="done",
            done_share=1.0,
            facts=facts,
            sequence=sequence,
            size_bytes=size_bytes,
            digest=digest,
            made_at=now,
            expires_at=now + timedelta(hours=settings.ARCHIVE_HOURS),
        )


def _digest(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(PIECE):
            digest.update(piece)
    return digest.hexdigest()


def _progress(asked: WorkshopArchive, step: str, share: float) -> None:
    WorkshopArchive.objects.filter(pk=asked.pk).update(step=step, done_share=share)


def _fail(asked: WorkshopArchive, why: str) -> None:
    WorkshopArchive.objects.filter(pk=asked.pk, state=WorkshopArchive.MAKING).update(
        state=WorkshopArchive.FAILED, step="done", done_share=1.0, failure=why[:500]
    )
