"""A frozen report on paper: a PDF made to PDF/A-3a and PDF/UA-1, its figures attached as JSON.

Typeset by typst from a template that only sets text; the data come in as JSON and are never code.
Its own fonts are used and its clock is the report's, so equal reports give equal bytes.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from recycling.records.reports.documents import Section
from recycling.records.reports.files import FileWords, FrozenReport
from recycling.tables.reports.layout import MARK, keywords
from recycling.tables.reports.text import SetTable, day_text, set_fact, set_table, uncertainty_head
from shared.printed import BOX, boxed, plainest

TEMPLATE = Path(__file__).parent / "paper" / "report.typ"
STANDARDS = ["a-3a", "ua-1"]
SHORT = 12
MOST_TRIES = 8
KEPT_FOR = 12
LONGEST_HEADING = 160
"""Letters of a heading that a page has room for: it stands again on each page of its table."""
TALLEST = 0.92
"""Height of the tallest drawing over the width between the margins."""
FULL_WIDTH = 680.0
_NOT_IN_FONT = re.compile(r'(?:the text|disallowed codepoint) `"(.+?)"`', re.DOTALL)
_ESCAPED = re.compile(r"\\u\{([0-9a-f]{1,6})\}")
PLAINEST = frozenset(map(chr, [0x0A, *range(0x20, 0x7F), *range(0xA0, 0x180)])) | set(
    "–−±·…→□\u202f"
)
"""Letters that every font of the paper has, with no mark that must be put on them."""
_SIZE = re.compile(r'<svg[^>]* width="([0-9.]+)" height="([0-9.]+)"')


class NotSet(Exception):
    """Paper could not be made of a report; says why."""


def pdf_of(
    report: FrozenReport,
    body: str,
    digest: str,
    words: FileWords,
    svgs: Mapping[str, str],
    mark: str = MARK,
) -> bytes:
    """Set a report on paper.

    Parameters
    ----------
    report : FrozenReport
        What it says.
    body, digest : str
        Its canonical JSON, which is attached, and the SHA-256 of it, which is printed.
    words : FileWords
        The words around it.
    svgs : mapping of str to str
        Its drawings by section and key, as ``recycling.figures.document_svg`` makes them.
    mark : str, optional
        How it names its layout.

    Raises
    ------
    NotSet
        When the typesetter refuses, in its words.
    """
    try:
        return _set(report, body, _data(report, digest, words, svgs, mark), words)
    finally:
        _forget()


def _set(report: FrozenReport, body: str, data: dict[str, Any], words: FileWords) -> bytes:
    """Set the data, boxes for what the fonts lack; in the end with the plainest letters alone.

    Which letters the fonts have is known; which marks fit on which letters only the setter knows,
    and it tells of one at a time.
    """
    import typst

    lacking: set[str] = set()
    for trial in range(MOST_TRIES + 1):
        plain = trial == MOST_TRIES
        try:
            return typst.compile(  # type: ignore[call-overload]
                TEMPLATE.read_bytes(),
                root=str(TEMPLATE.parent),
                format="pdf",
                font_paths=_fonts(),
                sys_inputs={"document": _written(data, lacking, words, plain), "body": body},
                pdf_standards=STANDARDS,
                timestamp=int(report.frozen_at.timestamp()),
            )
        except typst.TypstError as error:
            lacked = _NOT_IN_FONT.search(str(error.message))
            if plain or lacked is None:
                raise NotSet(str(error.message)) from error
            lacking.add(_ESCAPED.sub(lambda one: chr(int(one[1], 16)), lacked[1]))
    raise AssertionError("unreachable: the last try returns or raises")


def _forget() -> None:
    """Let the setter forget what it keeps for setting the same anew: no report is set twice.

    It drops what its last few pieces did not use, and has no other way to be told.
    """
    import typst

    for _ in range(KEPT_FOR):
        typst.compile(b"", format="svg", font_paths=_fonts())


@cache
def _fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False)


def _written(data: dict[str, Any], lacking: set[str], words: FileWords, plain: bool = False) -> str:
    """Write the data, a box for each letter that the fonts lack; the attached JSON keeps them."""

    def shown(text: str) -> str:
        if plain:
            return plainest(text, PLAINEST)
        for cluster in sorted(lacking, key=len, reverse=True):
            text = text.replace(cluster, BOX)
        return boxed(text)

    written = _mapped(data, shown)
    if written != _mapped(data, str):
        written["closing"] = [*written["closing"], words.missing]
    return json.dumps(written, ensure_ascii=False)


def _mapped(data: Any, shown: Callable[[str], str]) -> Any:
    """Put every text of some data through a function; the names of fields stay."""
    if isinstance(data, str):
        return shown(data)
    if isinstance(data, Mapping):
        return {key: _mapped(value, shown) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [_mapped(value, shown) for value in data]
    return data


def _data(
    report: FrozenReport, digest: str, words: FileWords, svgs: Mapping[str, str], mark: str
) -> dict[str, Any]:
    document = report.document
    return {
        "title": document.title,
        "subtitle": document.subtitle,
        "workshop": document.workshop,
        "language": document.language,
        "description": f"{report.code}. {words.check}",
        "keywords": keywords(report.code, digest, mark),
        "code": report.code,
        "digest": digest,
        "short_digest": digest[:SHORT],
        "attached": f"{report.code}.json",
        "identity": identity(report, words),
        "sections": [_section(one, words, svgs) for one in document.sections],
        "definitions": document.definitions,
        "signatures": document.signatures,
        "closing": [words.rounding, words.check, words.made_to],
        "words": {
            name: getattr(words, name)
            for name in ("figures", "figure", "value", "how", "page", "digest")
            + ("definitions", "signatures", "date_and_place")
        },
    }


def identity(report: FrozenReport, words: FileWords) -> list[tuple[str, str]]:
    """Return the lines that say which report this is, labels first."""
    document, question = report.document, report.question
    first, last = (day_text(one, words.months) for one in (question.from_date, question.to_date))
    lines = [
        (words.reported_by, document.workshop),
        (words.report, report.code),
        (words.period, f"{first} {words.until} {last} ({document.zone})"),
        (words.frozen, report.frozen_at.strftime("%Y-%m-%d %H:%M UTC")),
        (words.sequence, str(document.sequence)),
        (words.supersedes, report.supersedes),
    ]
    return [(label, said) for label, said in lines if label and said]


def _section(section: Section, words: FileWords, svgs: Mapping[str, str]) -> dict[str, Any]:
    drawings = []
    for drawing in section.drawings:
        svg = svgs.get(f"{section.key}-{drawing.key}")
        if svg:
            said = {"svg": svg, "alt": drawing.alt, "finding": drawing.finding}
            drawings.append({**said, "width": _share_of_page(svg)})
    return {
        "title": section.title,
        "text": section.text,
        "facts": [vars(set_fact(one, words)) for one in section.facts],
        "facts_caption": words.figures,
        "facts_uncertainty": uncertainty_head(section.facts, words),
        "tables": [_table(set_table(one, words)) for one in section.tables],
        "drawings": drawings,
    }


def _share_of_page(svg: str) -> float:
    """Return how much of the page's width a drawing takes: never more than the page is high."""
    size = _SIZE.search(svg)
    if size is None:
        return 1.0
    width, height = (float(one) for one in size.groups())
    return min(width / FULL_WIDTH, TALLEST * width / height, 1.0)


def _heading(text: str) -> str:
    """Cut a heading that would fill a page: the setter would go on to the next one for ever."""
    return text if len(text) <= LONGEST_HEADING else f"{text[:LONGEST_HEADING]}…"


def _table(table: SetTable) -> dict[str, Any]:
    hows = {one.how for one in table.columns if one.how}
    named = [f"{one.title}: {one.how}" for one in table.columns if one.how]
    one_way = len(hows) == 1 and len(named) == sum(one.right for one in table.columns)
    return {
        "caption": table.caption,
        "hows": f"({hows.pop()})" if one_way else f"({'; '.join(named)})" if named else "",
        "head": [_heading(one.heading) for one in table.columns],
        "columns": [{"right": one.right, "wide": not one.right} for one in table.columns],
        "rows": table.rows,
        "total": table.total,
        "more": table.more,
    }
