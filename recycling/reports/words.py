"""The words that a report's files add to what it says, in its language."""

from __future__ import annotations

from typing import Any

from django.utils.dates import MONTHS
from django.utils.formats import get_format
from django.utils.translation import gettext as _
from django.utils.translation import override

from recycling.records.reports.files import FileWords


def file_words(language: str) -> FileWords:
    """Give the words of files in a language."""
    with override(language):
        return FileWords(**_labels(), **_sentences(), decimal=get_format("DECIMAL_SEPARATOR"))


def _labels() -> dict[str, Any]:
    return {
        "contents": _("Contents"),
        "figures": _("Figures"),
        "definitions": _("What the words mean"),
        "signatures": _("Signatures"),
        "report": _("Report"),
        "reported_by": _("Reported by"),
        "frozen": _("Frozen"),
        "period": _("Period"),
        "zone": _("Time zone"),
        "sequence": _("Entries in the book"),
        "supersedes": _("Takes the place of"),
        "digest": _("SHA-256 of the figures"),
        "until": _("to"),
        "section": _("Section"),
        "sheet": _("Sheet"),
        "about": _("About"),
        "table": _("Table"),
        "figure": _("Figure"),
        "value": _("Value"),
        "unit": _("Unit"),
        "uncertainty": _("Standard uncertainty"),
        "covers": _("± (covers 95 %)"),
        "how": _("How known"),
        "note": _("Note"),
        "word": _("Word"),
        "meaning": _("What it means"),
        "total": _("Total"),
        "page": _("Page"),
        "signed": _("Signature"),
        "date_and_place": _("Date and place"),
        "months": tuple(str(MONTHS[number]) for number in range(1, 13)),
        "hows": (
            ("weighed", _("weighed")),
            ("measured", _("measured")),
            ("computed", _("computed")),
            ("estimated", _("estimated")),
            ("from memory", _("from memory")),
            ("typed", _("typed")),
            ("mixed", _("weighed and estimated")),
        ),
    }


def _sentences() -> dict[str, Any]:
    return {
        "rounding": _(
            "Masses are written in full, down to the milligram where one needs it; shares are"
            " rounded to a tenth of a percent. A figure with its standard uncertainty beside it is"
            " rounded as that is. Every figure, not rounded, is in the JSON file."
        ),
        "more_rows": _(
            "… {number} more rows, counted in every sum; all are in the JSON, the CSV and the"
            " spreadsheet."
        ),
        "check": _(
            "This file never changes. Whoever has it can verify it at the public address of the"
            " report or, without a server, with the program that made it."
        ),
        "missing": _("A box stands for a letter that the fonts of this file lack."),
        "made_to": _("Made to ISO 19005-3 (PDF/A-3a) and ISO 14289-1 (PDF/UA-1)."),
    }
