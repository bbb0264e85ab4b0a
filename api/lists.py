"""Files of entries: sent, looked through, asked about, seen, taken as a whole, taken back."""

from __future__ import annotations

from base64 import b64decode
from dataclasses import dataclass, field
from typing import ClassVar

from django.urls import path

from api.protocol.asking import PAGING, choice
from api.protocol.bodies import NothingBody
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.lists import import_rows, import_shown, imports
from recycling.records.actors import Actor
from recycling.records.lists import ImportLineRow, ImportRow
from recycling.records.paging import Page
from recycling.services.lists import (
    LARGEST_BYTES,
    data_checked,
    import_answer,
    import_bring,
    import_drop,
    import_take,
    import_undo,
)
from shared.errors import Refused

LARGEST_BODY = LARGEST_BYTES * 4 // 3 + 2**16
"""A file of the largest size in Base64, and what stands around it."""
FATES = ("new", "known", "left")


@dataclass(frozen=True)
class ImportBody:
    """A list of what came in, as people keep it, or entries in JSON.

    Attributes
    ----------
    text : str
        What the file holds, header included, where it is text.
    spreadsheet : str
        The file as it lies on disk, in Base64 (RFC 4648), instead of a text: XLSX, OpenDocument,
        or text in any usual encoding. Up to 10 MiB.
    name : str
        What it is called.
    answers : dict of str to str
        Answers to questions that it is known to raise: the key of a choice by the question's key.
    """

    text: str = ""
    name: str = ""
    spreadsheet: str = ""
    answers: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class AnswersBody:
    """Answers to what a list leaves open.

    Attributes
    ----------
    answers : dict of str to str
        The key of a choice by the question's key.
    """

    answers: dict[str, str]


@dataclass(frozen=True)
class ImportUndoBody:
    """Taking a list back.

    Attributes
    ----------
    reason : str
        Why; needed once the time of undoing without a word is over.
    """

    reason: str = ""


@dataclass(frozen=True)
class ImportDropped:
    """A file of entries that is no longer there.

    Attributes
    ----------
    number : int
        What it was found under.
    """

    number: int


@dataclass(frozen=True)
class _File:
    """A file that was read: what it is called, its bytes, and answers."""

    name: str
    data: bytes
    answers: dict[str, str]


def _read(_actor: Actor, body: ImportBody) -> _File:
    """Read the text or file of a body."""
    if not body.spreadsheet:
        return _File(body.name, data_checked(body.text.encode()), body.answers)
    if body.text:
        raise Refused.because("choice-wrong", "A text or a spreadsheet.", "/spreadsheet")
    try:
        data = b64decode(body.spreadsheet, validate=True)
    except ValueError as error:
        said = "This is no Base64."
        raise Refused.because("spreadsheet-unreadable", said, "/spreadsheet") from error
    return _File(body.name, data_checked(data), body.answers)


class ImportsApi(Door):
    needs = {"GET": "read", "POST": "record"}
    largest_body: ClassVar[int] = LARGEST_BODY

    @lists(ImportRow)
    def get(self, actor: Actor) -> list[ImportRow]:
        """List the latest files of entries, the newest first, without their rows."""
        return imports(actor)

    @records(ImportBody, ImportRow, status=202, ready=_read)
    def post(self, actor: Actor, body: _File) -> ImportRow:
        """Have a file looked through as if it were recorded; the same file again is one."""
        return import_shown(actor, import_bring(actor, body.name, body.data, body.answers))


class ImportApi(Door):
    needs = {"GET": "read"}

    @shows(ImportRow)
    def get(self, actor: Actor, number: int) -> ImportRow:
        """Show how far a file is, what it leaves open, and what stands against it."""
        return import_shown(actor, number)


class ImportRowsApi(Door):
    needs = {"GET": "read"}

    @lists(
        ImportLineRow,
        choice("fate", "Rows of this fate alone.", FATES),
        *PAGING,
    )
    def get(
        self, actor: Actor, number: int, fate: str = "", after: str = "", limit: int = 100
    ) -> Page[ImportLineRow]:
        """List the rows of a list with what becomes, or became, of each."""
        return import_rows(actor, number, fate, after, limit)


class ImportAnswersApi(Door):
    needs = {"POST": "record"}

    @records(AnswersBody, ImportRow, status=202)
    def post(self, actor: Actor, body: AnswersBody, number: int) -> ImportRow:
        """Answer what a list leaves open, and have it looked through anew."""
        return import_shown(actor, import_answer(actor, number, body.answers))


class ImportTakeApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, ImportRow, status=202)
    def post(self, actor: Actor, body: NothingBody, number: int) -> ImportRow:
        """Take a file that nothing stands against, in parts of which each is all or nothing."""
        return import_shown(actor, import_take(actor, number))


class ImportUndoApi(Door):
    needs = {"POST": "record"}

    @records(ImportUndoBody, ImportRow, status=202)
    def post(self, actor: Actor, body: ImportUndoBody, number: int) -> ImportRow:
        """Take back all that was taken of a list, while nothing was built on it."""
        return import_shown(actor, import_undo(actor, number, body.reason))


class ImportDropApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, ImportDropped, status=200)
    def post(self, actor: Actor, body: NothingBody, number: int) -> ImportDropped:
        """Drop a file of entries that was not taken."""
        return ImportDropped(import_drop(actor, number))


urlpatterns = [
    path("imports/", ImportsApi.as_view()),
    path("imports/<int:number>/", ImportApi.as_view()),
    path("imports/<int:number>/rows/", ImportRowsApi.as_view()),
    path("imports/<int:number>/answers/", ImportAnswersApi.as_view()),
    path("imports/<int:number>/take/", ImportTakeApi.as_view()),
    path("imports/<int:number>/undo/", ImportUndoApi.as_view()),
    path("imports/<int:number>/drop/", ImportDropApi.as_view()),
]
