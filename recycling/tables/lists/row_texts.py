"""The texts of a row of a list, and what is missing among them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from recycling.tables.lists.asking import Asking
from recycling.tables.lists.cells import Stored, shown
from recycling.tables.lists.folded import folded
from recycling.tables.lists.heads import Column
from recycling.tables.lists.names import form_of
from recycling.tables.lists.table import Line, check_unread, is_ditto
from recycling.tables.lists.words import (
    AT,
    BAG,
    COLOUR,
    CONSENT,
    COUNT,
    DOCUMENT,
    FORM,
    KIND,
    KIND_WORDS,
    NOTE,
    POLYMER,
    SOURCE,
    SUPPLIER,
)
from shared.said import say

KEPT = 501
"""Characters of a cell that go on: enough for the rules to see that there are too many."""
READ_ELSEWHERE = (AT, "mass", "gross", "tare", "unit", "line")


def text_in(line: Line, column: Column | None, filling: bool = False) -> str:
    """Give what stands in a column as text; a ditto mark, or an empty cell to fill, is as above."""
    if column is None:
        return ""
    cell = line.at(column.place)
    if is_ditto(cell) or (cell == "" and filling):
        cell = line.above.get(column.field, "")
    if isinstance(cell, Stored) and cell.value == cell.value.to_integral_value():
        return str(int(cell.value))
    return " ".join(shown(cell).split())[:KEPT]


def fields_of(
    line: Line,
    texts: Mapping[str, str],
    one: Mapping[str, Column],
    kind: str | None,
    asking: Asking,
) -> dict[str, Any]:
    for named, column in one.items():
        if named not in READ_ELSEWHERE:
            check_unread(line, column, asking)
    form = texts.get(FORM, "")
    read_form = form_of(form) if form else ""
    if form and not read_form:
        words = say("There is no form “{form}”.", form=form[:40])
        asking.wrong("form-wrong", words, line.number, one[FORM].head)
    return {
        "kind": _kind(line, texts, one, kind, asking),
        "form": read_form,
        "colour": texts.get(COLOUR, ""),
        "count": _count(line, texts.get(COUNT, ""), one.get(COUNT), asking),
        "note": texts.get(NOTE, ""),
        "bag": texts.get(BAG, ""),
        "supplier": texts.get(SUPPLIER, ""),
        "document": texts.get(DOCUMENT, ""),
        "consent": texts.get(CONSENT, ""),
    }


def _kind(
    line: Line,
    texts: Mapping[str, str],
    one: Mapping[str, Column],
    kind: str | None,
    asking: Asking,
) -> str:
    said = texts.get(KIND, "")
    if said:
        found = KIND_WORDS.get(folded(said), "")
        if not found:
            words = say("One of {kinds}.", kinds="collection, purchase, opening")
            asking.wrong("kind-unknown", words, line.number, one[KIND].head)
        return found or "collection"
    if kind:
        return kind
    return "purchase" if texts.get(SUPPLIER) and not texts.get(SOURCE) else "collection"


def _count(line: Line, said: str, column: Column | None, asking: Asking) -> int | None:
    if not said or column is None:
        return None
    bare = said.replace("\u00a0", "").replace("\u202f", "").replace("'", "").replace("’", "")
    words = bare.split()
    if (
        words
        and bare.isascii()
        and words[0].isdigit()
        and len(words[0]) < 16
        and (len(words) == 1 or words[1].isalpha())
    ):
        return int(words[0])
    asking.wrong("whole-wanted", say("A whole number is wanted."), line.number, column.head)
    return None


def check_names(
    line: Line,
    texts: Mapping[str, str],
    fields: Mapping[str, Any],
    one: Mapping[str, Column],
    asking: Asking,
) -> None:
    """Name what is missing in a row."""
    if POLYMER in one and not texts.get(POLYMER):
        words = say("Say which polymer it is.")
        asking.wrong("polymer-missing", words, line.number, one[POLYMER].head)
    if fields["kind"] == "collection" and SOURCE in one and not texts.get(SOURCE):
        asking.wrong("source-missing", say("Say who gave it."), line.number, one[SOURCE].head)
