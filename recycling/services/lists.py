"""Bring a file of entries, have it taken once it was looked through, or drop it."""

from __future__ import annotations

import hashlib
import re

from django.db.models import Max
from django.utils import timezone

from recycling import jobs
from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.models import ImportFile
from recycling.queries.lists import import_named
from recycling.records.actors import Actor
from recycling.tables.lists.spreadsheets import STARTS, STARTS_OLD, spreadsheet_text
from shared.errors import Conflict, Refused
from shared.said import say

LOOK, TAKE = "recycling.import_look", "recycling.import_take"
LOCKED = say("An old or locked spreadsheet: save it as XLSX without a password.")
TOO_LARGE = say("A file may have up to 5 MiB; split it.")
LARGEST_BYTES = 5 * 2**20
_NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f]")
RECORDED = ("entries", "lots", "recorded")
"""What stays known of a file that was taken in part when it is brought again."""
DONE = (ImportFile.LOOKING, ImportFile.TAKING, ImportFile.TAKEN)


def import_bring_file(actor: Actor, name: str, data: bytes) -> int:
    """Keep a file as it lay on somebody's disk: text in UTF-8, or a spreadsheet (XLSX).

    Raises
    ------
    Refused
        When it is too large, empty, or neither; or names each cell that cannot be read.
    """
    if not actor.may("record"):
        return import_bring(actor, name, "")  # refuses before anything is unpacked
    return import_bring(actor, name, text_of_file(actor, data))


def text_of_file(actor: Actor, data: bytes) -> str:
    """Read a file's text, or that of a spreadsheet; outside any transaction.

    Raises
    ------
    Refused
        When it is too large, empty, or neither; or names each cell that cannot be read.
    """
    if len(data) > LARGEST_BYTES:
        raise Refused.because("file-too-large", TOO_LARGE, "/text")
    if data.startswith(STARTS):
        return text_checked(spreadsheet_text(data, actor.zone))
    if data.startswith(STARTS_OLD):
        raise Refused.because("spreadsheet-unreadable", LOCKED, "/text")
    try:
        return text_checked(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        said = say("This is no text in UTF-8: save it as CSV UTF-8.")
        raise Refused.because("text-unreadable", said, "/text") from error


def text_checked(text: str) -> str:
    """Give a file's text without its mark, or refuse what is empty or no text."""
    if len(text) > LARGEST_BYTES:
        raise Refused.because("file-too-large", TOO_LARGE, "/text")
    if not text.strip():
        raise Refused.because("file-empty", "This file is empty. Export it again.", "/text")
    if _NO_TEXT.search(text):
        raise Refused.because("text-unreadable", "This is no text: save it as CSV.", "/text")
    return text.removeprefix("\ufeff")


@deed("record", raw=frozenset({"text"}))
def import_bring(actor: Actor, name: str, text: str) -> int:
    """Keep a text that was read and have it looked through; return its number.

    Nothing of it counts yet. The same file again is the one that is there; unless it was taken it
    is looked through anew, and one that was taken in part goes on where that ended.
    """
    digest = hashlib.sha256(text.encode()).hexdigest()
    files = ImportFile.objects.filter(workshop_id=actor.workshop_id)
    file = files.filter(digest=digest).defer("text").first()
    if file is None:
        file = ImportFile(
            workshop_id=actor.workshop_id,
            number=(files.aggregate(last=Max("number"))["last"] or 0) + 1,
            digest=digest,
            text=text,
            brought_at=timezone.now(),
            brought_by=actor.reference,
        )
    elif file.state in DONE:
        return file.number
    else:
        file.brought_by = actor.reference
    file.found = {name: file.found[name] for name in RECORDED if name in file.found}
    if not file.found.get("recorded"):
        file.found = {}
    file.name, file.state, file.done_share = name[:200], ImportFile.LOOKING, 0
    file.save()
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
        When it is still looked through, or something stands against it.
    """
    file = import_named(actor.workshop_id, number)
    if file.state in (ImportFile.TAKING, ImportFile.TAKEN):
        return file.number
    if file.state != ImportFile.LOOKED:
        raise Conflict.because(
            "file-not-ready", "Something stands against this file; see what was found in it."
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
    if file.state in (ImportFile.TAKING, ImportFile.TAKEN):
        raise Conflict.because("file-taken", say("{file} was taken already.", file=file.name))
    if file.found.get("recorded"):
        said = say(
            "A part of {file} is in the book: bring it again, and it goes on there.", file=file.name
        )
        raise Conflict.because("file-taken", said)
    file.delete()
    return number
