"""Files of entries: sent, looked through, seen, then taken as a whole."""

from __future__ import annotations

from base64 import b64decode
from dataclasses import dataclass

from django.urls import path

from api.protocol.bodies import NothingBody
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.lists import import_shown, imports
from recycling.records.actors import Actor
from recycling.records.lists import ImportRow
from recycling.services.lists import (
    import_bring,
    import_drop,
    import_take,
    text_checked,
    text_of_file,
)
from shared.errors import Refused


@dataclass(frozen=True)
class ImportBody:
    """A file of entries as text: CSV with a row for each bag that came in, or entries in JSON.

    Attributes
    ----------
    text : str
        What the file holds, header included. A request has up to 5 MiB.
    spreadsheet : str
        A spreadsheet (XLSX) in Base64 (RFC 4648), instead of a text.
    name : str
        What it is called.
    """

    text: str = ""
    name: str = ""
    spreadsheet: str = ""


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
    """A file that was read: what it is called, and its text."""

    name: str
    text: str


def _read(actor: Actor, body: ImportBody) -> _File:
    """Read the text or spreadsheet of a body."""
    if not body.spreadsheet:
        return _File(body.name, text_checked(body.text))
    if body.text:
        raise Refused.because("choice-wrong", "A text or a spreadsheet.", "/spreadsheet")
    try:
        data = b64decode(body.spreadsheet, validate=True)
    except ValueError as error:
        said = "This is no Base64."
        raise Refused.because("spreadsheet-unreadable", said, "/spreadsheet") from error
    return _File(body.name, text_of_file(actor, data))


class ImportsApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(ImportRow)
    def get(self, actor: Actor) -> list[ImportRow]:
        """List the latest files of entries, the newest first."""
        return imports(actor)

    @records(ImportBody, ImportRow, status=202, ready=_read)
    def post(self, actor: Actor, body: _File) -> ImportRow:
        """Have a file looked through as if it were recorded; the same file again is one."""
        return import_shown(actor, import_bring(actor, body.name, body.text))


class ImportApi(Door):
    needs = {"GET": "read"}

    @shows(ImportRow)
    def get(self, actor: Actor, number: int) -> ImportRow:
        """Show how far a file is, and each row or entry that something stands against."""
        return import_shown(actor, number)


class ImportTakeApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, ImportRow, status=202)
    def post(self, actor: Actor, body: NothingBody, number: int) -> ImportRow:
        """Take a file that nothing stands against: all of it is recorded, or nothing."""
        return import_shown(actor, import_take(actor, number))


class ImportDropApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, ImportDropped, status=200)
    def post(self, actor: Actor, body: NothingBody, number: int) -> ImportDropped:
        """Drop a file of entries that was not taken."""
        return ImportDropped(import_drop(actor, number))


urlpatterns = [
    path("imports/", ImportsApi.as_view()),
    path("imports/<int:number>/", ImportApi.as_view()),
    path("imports/<int:number>/take/", ImportTakeApi.as_view()),
    path("imports/<int:number>/drop/", ImportDropApi.as_view()),
]
