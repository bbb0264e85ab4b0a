"""A spreadsheet (Office Open XML, OpenDocument) as sheets of cells, row for row.

A file is looked at before it is unpacked: how many members it has, how large they become, and how
much smaller they are packed. Unpacking happens in a process of its own with limits on memory and
time. Only values are read: nothing is calculated, no link is followed. What cannot be read as it
stands there (an error, a formula whose result was not stored) is marked, and named where it counts.
"""

from __future__ import annotations

import io
import json
import os
import resource
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any
from xml.parsers import expat

from recycling.tables.lists.cells import Sheet, sheets_again, sheets_kept
from shared.errors import Problem, Refused
from shared.said import say

ROOT = Path(__file__).resolve().parents[3]
MOST_MEMBERS = 200
MOST_UNPACKED_BYTES = 96 * 2**20
MOST_RATIO, RATIO_FROM_BYTES = 250, 2**20
MOST_DEPTH, MOST_ELEMENTS = 60, 3_000_000
MEMORY_BYTES = 640 * 2**20
SECONDS = 45
STARTS = b"PK\x03\x04"
STARTS_OLD = b"\xd0\xcf\x11\xe0"
UNREADABLE = "This file cannot be read as a spreadsheet. Save it as XLSX or CSV UTF-8 again."
TOO_MUCH = "Unpacked, this spreadsheet is too large. Save the list alone, or as CSV UTF-8."


def spreadsheet_sheets(data: bytes) -> list[Sheet]:
    """Read a spreadsheet in a process of its own.

    Raises
    ------
    Refused
        When it is no spreadsheet, or too much unpacked.
    """
    said = _apart(data)
    if "sheets" in said:
        return sheets_again(said["sheets"])
    if said.get("problems"):
        raise Refused(*(_problem(**one) for one in said["problems"]))
    raise Refused.because("spreadsheet-unreadable", UNREADABLE, "/text")


def _apart(data: bytes) -> dict[str, Any]:
    """Run this module on the file; nothing comes back when it fails or takes too long."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "recycling.tables.lists.spreadsheets"],
            input=data,
            capture_output=True,
            timeout=SECONDS + 10,
            cwd=ROOT,
            env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
            check=False,
        )
        said: dict[str, Any] = json.loads(done.stdout) if not done.returncode else {}
        return said
    except (subprocess.TimeoutExpired, ValueError):
        return {}


def _problem(code: str, pattern: str, values: dict[str, Any], pointer: str) -> Problem:
    return Problem(code, say(pattern, **values), pointer)


def check_unpacked(data: bytes) -> None:
    """Look at a packed file's table of members, before anything of it is unpacked.

    Raises
    ------
    Refused
        When it has too many members, or they become too large, or share what is packed.
    ValueError
        When it is locked, or a name stands twice.
    zipfile.BadZipFile
        When there is no such table.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        members = packed.infolist()
    unpacked = sum(one.file_size for one in members)
    held = sum(one.compress_size for one in members)
    if (
        len(members) > MOST_MEMBERS
        or unpacked > MOST_UNPACKED_BYTES
        or held > len(data)
        or unpacked > max(RATIO_FROM_BYTES, MOST_RATIO * held)
    ):
        raise Refused.because("spreadsheet-too-large", TOO_MUCH, "/text")
    if any(one.flag_bits & 1 for one in members):
        raise ValueError("locked with a password")
    if len({one.filename for one in members}) < len(members):
        raise ValueError("a member twice")


def check_unpacked_or_refuse(data: bytes) -> None:
    """Refuse a packed file that is none, or too much, by its table of members alone."""
    try:
        check_unpacked(data)
    except (ValueError, zipfile.BadZipFile) as error:
        raise Refused.because("spreadsheet-unreadable", UNREADABLE, "/text") from error


def check_inside(data: bytes) -> None:
    """Walk through the XML of a packed file, piece by piece, before a tree is made of it.

    Raises
    ------
    Refused
        When elements lie deeper, or are more, than a list needs.
    ValueError
        When a part says of what kind it is (ECMA-376 part 2 forbids it), which bombs need.
    xml.parsers.expat.ExpatError
        When a part is no XML.
    """
    depth = count = 0

    def opened(_name: str, _attributes: dict[str, str]) -> None:
        nonlocal depth, count
        depth, count = depth + 1, count + 1
        if depth > MOST_DEPTH or count > MOST_ELEMENTS:
            raise Refused.because("spreadsheet-too-large", TOO_MUCH, "/text")

    def closed(_name: str) -> None:
        nonlocal depth
        depth -= 1

    def declared(*_kind: object) -> None:
        raise ValueError("a declaration of its kind")

    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        for name in packed.namelist():
            if name.lower().endswith((".xml", ".rels")):
                reader = expat.ParserCreate()
                reader.StartElementHandler, reader.EndElementHandler = opened, closed
                reader.StartDoctypeDeclHandler = declared
                with packed.open(name) as part:
                    reader.ParseFile(part)


def limit_this_process() -> None:
    """Let this process take no more memory and time than a list needs, and write no file."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


def read_here(data: bytes) -> dict[str, Any]:
    """Read a file in this process: its sheets, or what is wrong with it."""
    try:
        check_unpacked(data)
        check_inside(data)
        from recycling.tables.lists.open_document import is_open_document, open_sheets
        from recycling.tables.lists.spreadsheet_cells import book_sheets

        sheets = open_sheets(data) if is_open_document(data) else book_sheets(data)
        return {"sheets": sheets_kept(sheets)}
    except Refused as refused:
        return {"problems": [_told(one) for one in refused.problems]}
    except MemoryError:
        return {"problems": [_told(Problem("spreadsheet-too-large", TOO_MUCH, "/text"))]}


def main() -> None:
    """Read a file from the standard input; write what was read of it as JSON."""
    limit_this_process()
    json.dump(read_here(sys.stdin.buffer.read()), sys.stdout)


def _told(problem: Problem) -> dict[str, Any]:
    detail = problem.detail
    return {
        "code": problem.code,
        "pattern": getattr(detail, "pattern", detail.replace("{", "{{").replace("}", "}}")),
        "values": getattr(detail, "values", {}),
        "pointer": problem.pointer,
    }


if __name__ == "__main__":
    main()
