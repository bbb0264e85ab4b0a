"""A frozen report as one page of HTML that needs nothing else: no server, no network, no script.

The figures stand in it twice: as people read them, and as the report's canonical JSON.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from html import escape
from pathlib import Path

from recycling.records.reports.documents import Section
from recycling.records.reports.files import FileWords, FrozenReport
from recycling.tables.reports.json_file import canonical
from recycling.tables.reports.layout import MARK, keywords
from recycling.tables.reports.pdf_file import identity
from recycling.tables.reports.text import SetFact, SetTable, set_fact, set_table, uncertainty_head

STYLE = Path(__file__).parent / "paper" / "report.css"
HELD = 'id="figures" type="application/json"'
"""What marks the element that holds the JSON."""


def html_of(
    report: FrozenReport,
    body: str,
    digest: str,
    words: FileWords,
    svgs: Mapping[str, str],
    mark: str = MARK,
) -> str:
    """Write a report as a page on its own.

    Parameters
    ----------
    report : FrozenReport
        What it says.
    body, digest : str
        Its canonical JSON, which is held in the page, and its SHA-256, which is shown.
    words : FileWords
        The words around it.
    svgs : mapping of str to str
        Its drawings by section and key.
    mark : str, optional
        How it names its layout.
    """
    document, marks = report.document, keywords(report.code, digest, mark)
    lines = "".join(
        f"<dt>{escape(label)}</dt><dd>{escape(said)}</dd>"
        for label, said in identity(report, words)
    )
    parts = [
        "<!doctype html>",
        f'<html lang="{escape(document.language)}"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f'<meta name="keywords" content="{escape(", ".join(marks))}">',
        f"<title>{escape(document.title)} · {escape(report.code)}</title>",
        f"<style>{STYLE.read_text()}</style></head><body>",
        f"<header><h1>{escape(document.title)}</h1>",
        f"<p>{escape(document.subtitle)}</p>" if document.subtitle else "",
        f"<dl class='identity'>{lines}</dl></header><main>",
        *(_section(one, words, svgs) for one in document.sections),
        *_definitions(report, words),
        *_signatures(report, words),
        "</main><footer class='note'>",
        *(f"<p>{escape(said)}</p>" for said in (words.rounding, words.check)),
        f"<p>{escape(words.digest)}: <span class='digest'>{digest}</span></p></footer>",
        f"<script {HELD}>{_held(body)}</script></body></html>\n",
    ]
    return "\n".join(parts)


def _held(body: str) -> str:
    """Write JSON so that no text in it can end the element; JSON reads the same from it."""
    return body.replace("<", "\\u003c")


def json_in(page: str) -> str | None:
    """Return the JSON that a page holds, letter by letter; None where there is none.

    Raises
    ------
    ValueError
        When what it holds is no JSON.
    """
    _, found, rest = page.rpartition(f"<script {HELD}>")
    held, ended, _ = rest.partition("</script>")
    return canonical(json.loads(held)) if found and ended else None


def _section(section: Section, words: FileWords, svgs: Mapping[str, str]) -> str:
    parts = [f"<section><h2>{escape(section.title)}</h2>"]
    parts += [f"<p>{escape(said)}</p>" for said in section.text]
    for drawing in section.drawings:
        svg = svgs.get(f"{section.key}-{drawing.key}")
        if svg:
            parts.append(
                f"<figure><div class='scroll' tabindex='0' role='group'"
                f" aria-label='{escape(drawing.finding)}'>{svg}</div>"
                f"<figcaption>{escape(drawing.finding)}</figcaption></figure>"
            )
    if section.facts:
        head = uncertainty_head(section.facts, words)
        parts.append(_facts([set_fact(one, words) for one in section.facts], words, head))
    parts += [_table(set_table(one, words)) for one in section.tables]
    return "\n".join([*parts, "</section>"])


def _scrolling(caption: str, inside: Iterable[str]) -> str:
    said = escape(caption)
    return (
        f"<div class='scroll' tabindex='0' role='group' aria-label='{said}'><table>"
        f"<caption>{said}</caption>{''.join(inside)}</table></div>"
    )


def _facts(facts: list[SetFact], words: FileWords, uncertainty: str) -> str:
    heads = "".join(
        f'<th scope="col"{css}>{escape(said)}</th>'
        for said, css in (
            (words.figure, ""),
            (words.value, " class='number'"),
            (uncertainty, " class='number'"),
            (words.how, ""),
        )
    )
    rows = [
        f'<tr><th scope="row">{escape(one.title)}'
        + (f"<br><small class='note'>{escape(one.note)}</small>" if one.note else "")
        + f"</th><td class='number'>{escape(one.value)}</td>"
        f"<td class='number'>{escape(one.uncertainty)}</td><td>{escape(one.how)}</td></tr>"
        for one in facts
    ]
    body = f"<tbody>{''.join(rows)}</tbody>"
    return _scrolling(words.figures, (f"<thead><tr>{heads}</tr></thead>", body))


def _table(table: SetTable) -> str:
    css = [" class='number'" if one.right else "" for one in table.columns]

    def cells(row: tuple[str, ...]) -> str:
        return "".join(
            f"<td{look}>{escape(cell)}</td>" for cell, look in zip(row, css, strict=True)
        )

    heads = "".join(
        f'<th scope="col"{look}>{escape(one.heading)}'
        + (f"<br><small class='note'>{escape(one.how)}</small>" if one.how else "")
        + "</th>"
        for one, look in zip(table.columns, css, strict=True)
    )
    rows = "".join(f"<tr>{cells(row)}</tr>" for row in table.rows)
    inside = [f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody>"]
    if table.total is not None:
        inside.append(f"<tfoot><tr>{cells(table.total)}</tr></tfoot>")
    more = f"<p class='note'>{escape(table.more)}</p>" if table.more else ""
    return _scrolling(table.caption, inside) + more


def _definitions(report: FrozenReport, words: FileWords) -> list[str]:
    pairs = report.document.definitions
    if not pairs:
        return []
    lines = "".join(f"<dt>{escape(word)}</dt><dd>{escape(said)}</dd>" for word, said in pairs)
    return [f"<section><h2>{escape(words.definitions)}</h2><dl>{lines}</dl></section>"]


def _signatures(report: FrozenReport, words: FileWords) -> list[str]:
    lines = report.document.signatures
    if not lines:
        return []
    signs = "".join(
        f"<div class='sign'><span>{escape(one)}</span>"
        f"<span>{escape(words.date_and_place)}</span></div>"
        for one in lines
    )
    return [f"<section><h2>{escape(words.signatures)}</h2>{signs}</section>"]
