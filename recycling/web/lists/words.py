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
        "looked": _("looked through, not taken"),
        "taking": _("being taken"),
        "taken": _("taken"),
        "failed": _("something stands against it"),
    }.get(state, state)


def columns_said() -> list[tuple[str, str, str]]:
    """Name each column: what it holds, and an example."""
    return [
        (
            "at",
            _("when it came in, by the workshop's clock; needed"),
            "2026-05-04 09:30",
        ),
        ("polymer", _("what is in the bag; needed"), "PET"),
        ("mass", _("net mass with its unit; needed, or mass_mg"), "4.31 kg"),
        ("mass_mg", _("net mass in whole milligrams"), "4310000"),
        ("source", _("who gave it, as in the set-up; needed for a collection"), "Corner shop"),
        ("kind", _("collection when empty, or purchase, or opening"), "collection"),
        ("form", _("bottles when empty"), "caps"),
        ("colour", "", "clear"),
        ("count", _("number of pieces"), "90"),
        ("programme", _("of a collection"), "School run"),
        ("consent", _("of a collection"), "name on the label"),
        ("supplier", _("of a purchase"), "Pellet trader"),
        ("document", _("of a purchase"), "delivery note 12"),
        ("note", _("of all that came in together"), ""),
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
    bags = [lot for lot in row.lots if lot.entry in ORIGINS]
    said = {
        "bags": ngettext("%(count)s bag", "%(count)s bags", len(bags))
        % {"count": _whole(len(bags))},
        "mass": mass_text(sum(lot.mass_mg for lot in bags)),
        "givers": _givers([lot.giver for lot in bags if lot.giver]),
    }
    if not bags:
        return ""
    if row.state == "taken":
        if said["givers"]:
            return _("%(bags)s from %(givers)s, %(mass)s net, came into the book.") % said
        return _("%(bags)s, %(mass)s net, came into the book.") % said
    if said["givers"]:
        return _("Taking it records %(bags)s from %(givers)s, %(mass)s net.") % said
    return _("Taking it records %(bags)s, %(mass)s net.") % said


def _givers(names: list[str]) -> str:
    every = list(dict.fromkeys(names))
    if len(every) > NAMED:
        more = len(every) - NAMED + 1
        every = [
            *every[: NAMED - 1],
            ngettext("%(count)s other", "%(count)s others", more) % {"count": more},
        ]
    if len(every) < 2:
        return "".join(every)
    return _("%(first)s and %(last)s") % {"first": ", ".join(every[:-1]), "last": every[-1]}


def facts_said(row: ImportRow) -> list[tuple[str, str]]:
    """Say how much is in a file, and of which days."""
    bags = [lot for lot in row.lots if lot.entry in ORIGINS]
    days = sorted(lot.at for lot in row.lots if lot.at)
    facts = [(_("Entries"), _whole(row.entries)), (_("Lots"), _whole(len(row.lots)))]
    if bags:
        facts.append((_("Comes in"), mass_text(sum(lot.mass_mg for lot in bags))))
    if days:
        shown = [date_format(timezone.localtime(at), "SHORT_DATE_FORMAT") for at in days]
        facts.append((_("From"), shown[0]))
        facts.append((_("Until"), shown[-1]))
    return facts


def _whole(count: int) -> str:
    return number_format(count, use_l10n=True, force_grouping=True)
