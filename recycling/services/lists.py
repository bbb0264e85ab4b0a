"""Bring a file of entries, answer what it leaves open, have it taken, take it back, or drop it."""

from __future__ import annotations

import hashlib
import re
import time
from collections.abc import Mapping
from datetime import timedelta

from django.conf import settings
from django.db.models import Max, QuerySet
from django.utils import timezone

from recycling import jobs
from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.lists import answers_of, refuse_built_on_import
from recycling.keeping.texts import require_reason
from recycling.keeping.voiding import void_together
from recycling.models import ImportFile, ImportLine, Run
from recycling.queries.lists import import_named
from recycling.records.actors import Actor
from recycling.tables.lists.spreadsheets import STARTS, STARTS_OLD, check_unpacked_or_refuse
from shared.errors import Conflict, Refused
from shared.said import say

LOOK, TAKE, UNDO = "recycling.import_look", "recycling.import_take", "recycling.import_undo"
LOCKED = say("An old or locked spreadsheet: save it as XLSX without a password.")
TOO_LARGE = say("A file may have up to 10 MiB; split it.")
LARGEST_BYTES = 10 * 2**20
UNDO_SECONDS, UNDONE_AT_ONCE = 0.8, 20
UNDONE = "The list that it came from was taken back."
_NO_TEXT = re.compile(rb"[\x00-\x08\x0b\x0e-\x1f]")
DONE = (ImportFile.LOOKING, ImportFile.TAKING, ImportFile.TAKEN, ImportFile.UNDOING)
KEPT = ("entries", "lots", "recorded")
"""What stays known of a file that was taken in part when it is brought again."""


def data_checked(data: bytes) -> bytes:
    """Give a file's bytes, or refuse what no list can be, before it is kept.

    Raises
    ------
    Refused
        When it is too large, empty, or neither a text nor a spreadsheet.
    """
    if len(data) > LARGEST_BYTES:
        raise Refused.because("file-too-large", TOO_LARGE, "/text")
    if not data.strip(b" \t\r\n\xef\xbb\xbf"):
        raise Refused.because("file-empty", "This file is empty. Export it again.", "/text")
    if data.startswith(STARTS_OLD):
        raise Refused.because("spreadsheet-unreadable", LOCKED, "/text")
    if data.startswith(STARTS):
        check_unpacked_or_refuse(data)
    elif _NO_TEXT.search(data) and not _wide(data):
        raise Refused.because("text-unreadable", "This is no text: save it as CSV.", "/text")
    return data


def _wide(data: bytes) -> bool:
    """Whether it looks like text of two bytes a sign, which is half zeros."""
    head = data[:400]
    return data[:2] in (b"\xff\xfe", b"\xfe\xff") or any(
        head[start::2].count(0) > 0.8 * len(head[start::2]) for start in (0, 1)
    )


@deed("record", raw=frozenset({"data"}))
def import_bring(
    actor: Actor, name: str, data: bytes, answers: Mapping[str, str] | None = None
) -> int:
    """Keep a file as it lay on somebody's disk and have it looked through; return its number.

    Nothing of it counts yet. The same file again is the one that is there; unless it was taken it
    is looked through anew, and one that was taken in part goes on where that ended. `answers` are
    those to questions that it is known to raise, by their keys.

    Raises
    ------
    Refused
        When it is too large, empty, or neither a text nor a spreadsheet.
    """
    data_checked(data)
    digest = hashlib.sha256(data).hexdigest()
    files = ImportFile.objects.filter(workshop_id=actor.workshop_id)
    file = files.filter(digest=digest).first()
    if file is None:
        file = ImportFile(
            workshop_id=actor.workshop_id,
            number=(files.aggregate(last=Max("number"))["last"] or 0) + 1,
            digest=digest,
            data=data,
            brought_at=timezone.now(),
            brought_by=actor.reference,
        )
    elif file.state in DONE:
        return file.number
    else:
        file.brought_by = actor.reference
    file.answers = answers_of(answers) if answers else file.answers
    file.found = {name: file.found[name] for name in KEPT if name in file.found}
    if not file.found.get("recorded") or file.state == ImportFile.UNDONE:
        file.found = {}
    file.name, file.state, file.done_share = name[:200], ImportFile.LOOKING, 0
    file.taken_at = None
    file.save()
    jobs.start(actor.workshop_id, LOOK, file=file.pk)
    return file.number


@deed("record")
def import_answer(actor: Actor, number: int, answers: Mapping[str, str]) -> int:
    """Answer what a list leaves open, by the questions' keys, and have it looked through anew.

    Raises
    ------
    Unknown
        When there is no such file.
    Refused
        When a question or an answer is none of those that were put.
    Conflict
        When it is being worked on, or was taken.
    """
    file = import_named(actor.workshop_id, number)
    if file.state in DONE or file.state == ImportFile.UNDONE:
        raise Conflict.because(
            "file-not-ready", "This list is being worked on, or was taken: nothing is asked of it."
        )
    file.answers = file.answers | answers_of(answers, file)
    file.state, file.done_share, file.brought_by = ImportFile.LOOKING, 0, actor.reference
    file.save(update_fields=["answers", "state", "done_share", "brought_by"])
    jobs.start(actor.workshop_id, LOOK, file=file.pk)
    return file.number


@deed("record")
def import_take(actor: Actor, number: int) -> int:
    """Have a file taken that was looked through; one that is taken stays as it is.

    Raises
    ------
    Unknown
        When there is none of that number.
    Conflict
        When it is still looked through, or something is asked or stands against it.
    """
    file = import_named(actor.workshop_id, number)
    if file.state in (ImportFile.TAKING, ImportFile.TAKEN):
        return file.number
    if file.state != ImportFile.LOOKED:
        raise Conflict.because(
            "file-not-ready",
            "Something is asked about this file, or stands against it; see what was found in it.",
        )
    file.state, file.done_share, file.taken_by = ImportFile.TAKING, 0, actor.reference
    file.save(update_fields=["state", "done_share", "taken_by"])
    said = {"name": file.name, "digest": file.digest}
    keep_change(actor, f"import {file.number}", "take import", {}, said)
    jobs.start(actor.workshop_id, TAKE, file=file.pk)
    return file.number


@deed("record")
def import_drop(actor: Actor, number: int) -> int:
    """Drop a file that was not taken; return its number.

    Raises
    ------
    Unknown
        When there is none of that number.
    Conflict
        When it was taken, or is being taken.
    """
    file = import_named(actor.workshop_id, number)
    if file.state in (ImportFile.TAKING, ImportFile.TAKEN, ImportFile.UNDOING):
        raise Conflict.because("file-taken", say("{file} was taken already.", file=file.name))
    if file.found.get("recorded"):
        said = say(
            "A part of {file} is in the book: bring it again, and it goes on there.", file=file.name
        )
        raise Conflict.because("file-taken", said)
    file.delete()
    return number


@deed("record")
def import_undo(actor: Actor, number: int, reason: str = "") -> int:
    """Have all that was taken of a list taken back; its runs stay readable as void.

    Without a reason by whoever took it, for some minutes; afterwards with one, by those who may
    void.

    Raises
    ------
    Unknown
        When there is none of that number.
    Conflict
        When nothing of it was taken.
    Refused
        When its time is over and no reason is given, or something was built on it.
    """
    file = import_named(actor.workshop_id, number)
    if file.state == ImportFile.UNDOING:
        return file.number
    if "counts" not in file.found or not _standing(file).exists():
        raise Conflict.because("file-not-taken", "Nothing of this list is in the book.")
    if file.state not in (ImportFile.TAKEN, ImportFile.FAILED):
        raise Conflict.because("file-not-ready", "This list is being worked on; wait for its end.")
    if not _at_once(actor, file):
        reason = _later(actor, reason)
    refuse_built_on_import(file)
    file.state, file.done_share = ImportFile.UNDOING, 0
    file.save(update_fields=["state", "done_share"])
    keep_change(actor, f"import {file.number}", "take import back", {"name": file.name}, {}, reason)
    by = str(actor.reference) if actor.reference else ""
    jobs.start(actor.workshop_id, UNDO, file=file.pk, by=by, reason=reason or UNDONE)
    return file.number


def _at_once(actor: Actor, file: ImportFile) -> bool:
    """Whether whoever took it may still take it back without a word."""
    since = timezone.now() - timedelta(minutes=settings.UNDO_MINUTES)
    in_time = file.taken_at is None or file.taken_at >= since
    return in_time and file.taken_by == actor.reference


def _later(actor: Actor, reason: str) -> str:
    if not actor.may("void"):
        text = say(
            "Whoever took this list could undo it for {minutes} minutes; ask a lead to void it.",
            minutes=settings.UNDO_MINUTES,
        )
        raise Refused.because("undo-over", text)
    return require_reason(reason)


@deed("record")
def import_undo_part(actor: Actor, number: int, reason: str) -> tuple[bool, float]:
    """Take a part of an import back, as much as a second allows; whether any is left, and how far.

    Raises
    ------
    Refused
        When something was built on it meanwhile.
    """
    file, until = import_named(actor.workshop_id, number), time.monotonic() + UNDO_SECONDS
    if file.state != ImportFile.UNDOING:
        return False, 1.0
    refuse_built_on_import(file)
    left = True
    while left and time.monotonic() < until:
        runs = list(
            Run.objects.filter(pk__in=_standing(file).values("lot__made_by_id")[:UNDONE_AT_ONCE])
        )
        runs.sort(key=lambda one: one.number, reverse=True)
        if runs:
            void_together(actor, runs, reason)
        left = bool(runs) and _standing(file).exists()
    standing = _standing(file).count()
    share = 1 - standing / max(file.found["counts"]["new"], 1)
    file.found["recorded"], file.done_share = standing, share
    if not left:
        file.state = ImportFile.UNDONE
    file.save(update_fields=["found", "done_share", "state"])
    return left, share


def _standing(file: ImportFile) -> QuerySet[ImportLine]:
    """The rows of a list whose lots are in the book and not void."""
    taken = file.lines.filter(fate=ImportLine.NEW).exclude(lot=None)
    return taken.exclude(lot__made_by__state=Run.VOID)
