"""Reading out of a report's file what it says of itself, and the figures that it carries.

Only files as they were written are read. One that another program saved anew may hold the same
things elsewhere; it is then said to carry nothing, never taken for genuine.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
import zlib

from recycling.records.reports.files import CSV, HTML, JSON, PDF, XLSX
from recycling.tables.reports.csv_file import COLUMNS, REPORT
from recycling.tables.reports.html_file import json_in

LARGEST = 64 * 2**20
_SHA = re.compile(rb"sha256:([0-9a-f]{64})")
_PRINTED = re.compile(rb"class='digest'>([0-9a-f]{64})<")
_CODE = re.compile(rb"\b(D[0-9]{1,9}-[0-9A-Z]), sha256:")
_MARK = re.compile(rb"sha256:[0-9a-f]{64}, (layout:[1-9][0-9]{0,3}|set:[0-9a-f]{12})\b")
_STREAM = re.compile(rb"stream\r?\n")
_LENGTH = re.compile(rb"/Length (\d{1,10})")


def kind_of(held: bytes) -> str:
    """Tell what kind of file it is by how it begins; empty when it is none of a report's.

    Examples
    --------
    >>> kind_of(b"%PDF-1.7"), kind_of(b"{}"), kind_of(b"hello")
    ('pdf', 'json', '')
    """
    if held.startswith(b"%PDF-"):
        return PDF
    if held.startswith(b"PK\x03\x04"):
        return XLSX
    if held.startswith(b"{"):
        return JSON
    if held[:15].lower() == b"<!doctype html>":
        return HTML
    head = ",".join(COLUMNS).encode()
    return CSV if held.removeprefix(b"\xef\xbb\xbf").startswith(head) else ""


def body_in(kind: str, held: bytes) -> str:
    """Return the JSON of all figures that a file carries; empty where it carries none.

    Raises
    ------
    ValueError
        When what it carries cannot be read.
    """
    if kind == JSON:
        return held.decode()
    if kind == HTML:
        return json_in(held.decode()) or ""
    return _attached(held) if kind == PDF else ""


def said_in(kind: str, held: bytes) -> tuple[str, str]:
    """Return the code and the SHA-256 that a file says it belongs to; empty where it says none."""
    if kind == CSV:
        rows = {row["row"]: row["value"] for row in csv_rows(held) if row["section"] == REPORT}
        return rows.get("code", ""), rows.get("sha256", "")
    if kind == XLSX:
        held = _properties(held)
    digest = _SHA.search(held) or (_PRINTED.search(held) if kind == HTML else None)
    code = _CODE.search(held)
    return (code.group(1).decode() if code else ""), (digest.group(1).decode() if digest else "")


def mark_in(kind: str, held: bytes) -> str:
    """Return the mark by which a file names its layout; empty where it names none."""
    found = _MARK.search(_properties(held) if kind == XLSX else held)
    return found.group(1).decode() if found else ""


def csv_rows(held: bytes) -> list[dict[str, str]]:
    """Read the rows of a long CSV file.

    Raises
    ------
    ValueError
        When it is no text, or a row has other columns.
    """
    rows = list(csv.DictReader(io.StringIO(held.decode("utf-8-sig"), newline=""), restkey="more"))
    if any("more" in row or None in row.values() for row in rows):
        raise ValueError("a row has more or fewer cells than there are columns")
    return rows


def _attached(held: bytes) -> str:
    """Return the file that is attached to a PDF (ISO 32000-1, 7.11.4)."""
    found = held.find(b"/EmbeddedFile/")
    if found < 0:
        found = held.find(b"/Type/EmbeddedFile")
    start = held.rfind(b" obj", 0, found)
    opened = _STREAM.search(held, found) if found >= 0 and start >= 0 else None
    if opened is None:
        return ""
    head = held[start : opened.start()]
    length = _LENGTH.search(head)
    if length is None:
        return ""
    stream = held[opened.end() : opened.end() + int(length.group(1))]
    if b"/FlateDecode" in head:
        opener = zlib.decompressobj()
        try:
            stream = opener.decompress(stream, LARGEST)
        except zlib.error as error:
            raise ValueError("what is attached cannot be unpacked") from error
        if opener.unconsumed_tail:
            raise ValueError("what is attached is larger than any report")
    return stream.decode()


def _properties(held: bytes) -> bytes:
    try:
        packed = zipfile.ZipFile(io.BytesIO(held))
        with packed, packed.open("docProps/core.xml") as part:
            return part.read(LARGEST)
    except (zipfile.BadZipFile, KeyError, NotImplementedError, RuntimeError) as error:
        raise ValueError("this spreadsheet cannot be unpacked") from error
