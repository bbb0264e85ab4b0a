"""Checking a file of a report without the server and without a database."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from recycling.records.reports.files import (
    CHANGED,
    CSV,
    GENUINE,
    HTML,
    INTACT,
    NONE,
    OPEN,
    PDF,
    XLSX,
    FileCheck,
    FrozenReport,
)
from recycling.reports.frozen_files import file_of
from recycling.tables.csv_text import safe_cell
from recycling.tables.reports.csv_file import COLUMNS, long_rows
from recycling.tables.reports.json_file import digest_of_text, json_of, read_report
from recycling.tables.reports.layout import MARK, can_be_set_again
from recycling.tables.reports.read import body_in, csv_rows, kind_of, mark_in, said_in

MARKED = (PDF, HTML, XLSX)
"""Kinds of files that name their layout; the others are laid out as their figures are."""
MOST_DIFFERENCES = 20


def file_check(held: bytes, against: str = "", digest: str = "") -> FileCheck:
    """Say what a file is: what it claims, whether that fits what it carries, and what differs.

    `against` is the JSON of the report that it should be made of, `digest` the SHA-256 of that, as
    it was printed or published elsewhere.

    Raises
    ------
    ValueError
        When `against` is no report.
    """
    wanted = read_report(against) if against else None
    kind, file_digest = kind_of(held), hashlib.sha256(held).hexdigest()
    try:
        code, says = said_in(kind, held) if kind else ("", "")
        own = body_in(kind, held)
        carried = read_report(own) if own else None
    except ValueError as error:
        return FileCheck(NONE, kind, "", "", "", "", file_digest, None, (str(error),))
    if not kind or (not carried and not says):
        return FileCheck(NONE, kind, code, "", says, "", file_digest, None)
    found = carried or wanted
    body = own or against
    differences = list(_differences(kind, held, (carried, own), (wanted, against), says, digest))
    mark = mark_in(kind, held) if kind in MARKED else MARK
    remade = bool(body) and can_be_set_again(mark) and file_of(body, kind, mark) == held
    if carried and json_of(carried) != own:
        differences.append("Its JSON is not written as a report's is.")
    verdict = OPEN if remade or not body else _of_other_bytes(kind, mark, says)
    if verdict == CHANGED and not differences:
        differences.append("Its bytes are not what this program makes of these figures.")
    verdict = CHANGED if differences else GENUINE if remade else verdict
    return FileCheck(
        verdict,
        kind,
        (found.code if carried and found else code),
        found.document.workshop if found else "",
        says,
        digest_of_text(body) if body else "",
        file_digest,
        remade if body else None,
        tuple(differences),
    )


def _of_other_bytes(kind: str, mark: str, says: str) -> str:
    """Judge a file that is not what this version makes, by the layout that it says it has.

    A spreadsheet carries no figures in full, so of another layout's nothing can be decided.
    """
    if not says or mark == MARK:
        return CHANGED
    return OPEN if kind == XLSX else INTACT


def _differences(
    kind: str,
    held: bytes,
    carried: tuple[FrozenReport | None, str],
    wanted: tuple[FrozenReport | None, str],
    says: str,
    digest: str,
) -> Iterator[str]:
    own = digest_of_text(carried[1]) if carried[0] else says
    if carried[0] and says and own != says:
        yield f"It says that its figures have the SHA-256 {says}, but they have {own}."
    if digest and own != digest:
        yield f"The SHA-256 should be {digest}, but is {own}."
    if wanted[0] is None:
        return
    should = digest_of_text(wanted[1])
    if own != should:
        yield f"It belongs to other figures: {own}, not {should}."
    if kind == CSV:
        yield from _other_cells(csv_rows(held), wanted[0], should)


def _other_cells(rows: list[dict[str, str]], wanted: FrozenReport, digest: str) -> Iterator[str]:
    """Compare a long CSV with what it should say, row by row."""
    should = [
        dict(zip(COLUMNS, (str(safe_cell(cell)) for cell in row), strict=True))
        for row in long_rows(wanted, digest)
    ]
    if len(rows) != len(should):
        yield f"It has {len(rows)} rows; there should be {len(should)}."
    count = 0
    for row, right in zip(rows, should, strict=False):
        if row != right:
            count += 1
            if count <= MOST_DIFFERENCES:
                where = " / ".join(right[name] for name in COLUMNS[:5] if right[name])
                yield f"{where}: {row['value']}; it should be {right['value']}."
    if count > MOST_DIFFERENCES:
        yield f"And {count - MOST_DIFFERENCES} more rows."
