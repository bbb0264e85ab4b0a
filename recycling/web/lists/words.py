"""What is said of a list that was brought: its columns, what is in it, what stands against it."""

from __future__ import annotations

from django.utils import timezone
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.records.lists import ImportRow
from recycling.records.lots.origin_entries import ORIGINS
from recycling.web.languages import in_language
from recycling.web.templatetags.look import mass_text

NAMED = 3


def state_said(state: str) -> str:
    return {
        "looking": _("being looked through"),
        "asked": _("something is asked"),
        "looked": _("looked through, not taken"),
        "taking": _("being taken"),
        "taken": _("taken"),
        "failed": _("something stands against it"),
        "undoing": _("being taken back"),
        "undone": _("taken back"),
    }.get(state, state)


def left_said(why: str) -> str:
    """Say why a row is left out."""
    return {
        "title": _("a title"),
        "blank": _("empty"),
        "unit": _("units"),
        "total": _("a total"),
        "heads": _("heads again"),
        "example": _("the example"),
        "hidden": _("hidden"),
        "left out": _("left out, as you said"),
        "entered twice": _("entered twice"),
        "put right by hand": _("to put right on its own page"),
    }.get(why, why)


def field_said(field: str) -> str:
    """Name what a column of a list is."""
    return {
        "at": _("day"),
        "time": _("time of day"),
        "source": _("giver"),
        "polymer": _("polymer"),
        "form": _("form"),
        "colour": _("colour"),
        "mass": _("net mass"),
        "gross": _("gross mass"),
        "tare": _("tare"),
        "count": _("number of pieces"),
        "unit": _("unit"),
        "note": _("note"),
        "bag": _("bag number"),
        "programme": _("programme"),
        "consent": _("consent"),
        "kind": _("kind of entry"),
        "supplier": _("supplier"),
        "document": _("document"),
        "line": _("number of the row"),
    }.get(field, "")


def columns_read(row: ImportRow) -> list[tuple[str, str]]:
    """Say of each column how it is read; what nobody knows is left out, and said so."""
    return [
        (one.head, " ".join((field_said(one.field) or _("left out"), one.unit)).strip())
        for one in row.columns
        if one.head
    ]


def counts_said(row: ImportRow, fate: str) -> list[tuple[str, str, int, bool]]:
    """Say how many rows have which fate; the chosen one is marked."""
    counts = row.counts
    each = (
        ("new", _("to be recorded") if row.state != "taken" else _("recorded"), counts.new),
        ("known", _("in the book already"), counts.known),
        ("left", _("left out"), counts.skipped),
    )
    return [(key, words, count, key == fate) for key, words, count in each]


def columns_said() -> list[tuple[str, str, str]]:
    """Name what may stand in columns: heads as people write them, what it is, and an example."""
    return [
        (_("Date, Day, Received"), _("when it came in; needed"), "4.5.2026"),
        (_("Giver, School, From"), _("who gave it; needed for a gift"), "Corner shop"),
        (_("Plastic, Material"), _("what is in the bag"), "PET"),
        (_("Weight, kg, Net"), _("net mass; or gross and tare"), "4.31"),
        (_("Form, What"), _("bottles when empty"), "caps"),
        (_("Colour"), "", "clear"),
        (_("Pieces, Bottles"), _("number of pieces"), "90"),
        (_("Bag"), _("number on the bag"), "12"),
        (_("Programme, Consent"), _("of a gift"), ""),
        (_("Supplier, Invoice"), _("of a purchase"), "Pellet trader"),
        (_("Kind"), _("collection when empty, or purchase, or opening"), "collection"),
        (_("Note"), _("of all that came in together"), ""),
    ]


def problem_said(pointer: str, detail: str) -> str:
    """Say what is wrong with the row and column before it, where a pointer names them."""
    row, _slash, column = pointer.strip("/").partition("/")
    said = in_language(detail)
    if not row.isdigit():
        return said
    if not column:
        return _("Row %(row)s: %(said)s") % {"row": row, "said": said}
    return _("Row %(row)s, %(column)s: %(said)s") % {"row": row, "column": column, "said": said}


def sentence_said(row: ImportRow) -> str:
    """Say in a sentence what is recorded when the file is taken, or was."""
    count = row.counts.new or sum(1 for lot in row.lots if lot.entry in ORIGINS)
    if not count:
        return ""
    said = {
        "bags": ngettext("%(count)s bag", "%(count)s bags", count) % {"count": _whole(count)},
        "mass": mass_text(row.mass_mg),
        "givers": _givers(list(row.givers), row.givers_count),
    }
    if row.state == "taken":
        if said["givers"]:
            return _("%(bags)s from %(givers)s, %(mass)s net, came into the book.") % said
        return _("%(bags)s, %(mass)s net, came into the book.") % said
    if said["givers"]:
        return _("Taking it records %(bags)s from %(givers)s, %(mass)s net.") % said
    return _("Taking it records %(bags)s, %(mass)s net.") % said


def _givers(named: list[str], count: int) -> str:
    if count > NAMED:
        more = count - NAMED + 1
        named = [
            *named[: NAMED - 1],
            ngettext("%(count)s other", "%(count)s others", more) % {"count": more},
        ]
    if len(named) < 2:
        return "".join(named)
    return _("%(first)s and %(last)s") % {"first": ", ".join(named[:-1]), "last": named[-1]}


def facts_said(row: ImportRow) -> list[tuple[str, str]]:
    """Say how much is in a file, and of which days."""
    facts = [(_("Entries"), _whole(row.entries)), (_("Lots"), _whole(row.lots_count))]
    if row.mass_mg:
        facts.append((_("Comes in"), mass_text(row.mass_mg)))
    if row.first_at and row.last_at:
        for words, at in ((_("From"), row.first_at), (_("Until"), row.last_at)):
            facts.append((words, date_format(timezone.localtime(at), "SHORT_DATE_FORMAT")))
    if row.new_sources:
        facts.append((_("Sources that are added"), ", ".join(row.new_sources[:20])))
    return facts


def _whole(count: int) -> str:
    return number_format(count, use_l10n=True, force_grouping=True)
