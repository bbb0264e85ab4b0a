"""Fields of the set-up pages, by the names of their entries."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.formats import number_format
from django.utils.html import format_html
from django.utils.translation import gettext as _

from recycling.web.forms.fields import (
    DayField,
    LinesField,
    MassField,
    NumberField,
    Typed,
    WholeField,
    choice_field,
    tick,
)
from recycling.web.words import role_name

SOURCE_KINDS = (
    "school",
    "shop",
    "household",
    "business",
    "maker",
    "club",
    "bin",
    "event",
    "other",
)


def source_kind(kind: str) -> str:
    return {
        "school": _("school"),
        "shop": _("shop"),
        "household": _("household"),
        "business": _("business, bottles used there"),
        "maker": _("maker, left over from making"),
        "club": _("club"),
        "bin": _("unattended bin"),
        "event": _("event"),
        "other": _("other"),
    }.get(kind, kind)


def source() -> dict[str, Any]:
    kinds = [(kind, source_kind(kind)) for kind in SOURCE_KINDS]
    named = tick(_("May be named in public"), help_text=_("Only when the giver has agreed to it."))
    return {
        "name": Typed(_("Name"), required=True),
        "kind": choice_field(_("Kind"), kinds, initial="other", required=True),
        "may_be_named": named,
        "note": LinesField(_("Note")),
    }


def programme() -> dict[str, Any]:
    return {
        "name": Typed(_("Name"), required=True),
        "funder": Typed(_("Funder")),
        "starts_date": DayField(_("First day")),
        "ends_date": DayField(_("Last day")),
        "target_mg": MassField(_("Target"), help_text=_("How much is to be collected.")),
    }


def machine(kinds: Iterable[str]) -> dict[str, Any]:
    """The kinds of machine are those that stages work on."""
    named = [(kind, _(kind)) for kind in dict.fromkeys(kinds)]
    return {
        "name": Typed(_("Name"), required=True),
        "kind": choice_field(_("Kind"), named, few=False, prompt=_("choose"), required=True),
        "note": LinesField(_("Note")),
    }


def scale() -> dict[str, Any]:
    classes = [(one, one) for one in ("I", "II", "III", "IIII")]
    hint = _("The smallest step it may be checked at, on the plate as e.")
    return {
        "name": Typed(_("Name"), required=True),
        "accuracy_class": choice_field(
            _("Accuracy class"),
            classes,
            initial="III",
            required=True,
            help_text=_("OIML R 76-1, on the plate."),
        ),
        "interval_mg": MassField(_("Verification interval e"), help_text=hint, required=True),
        "capacity_mg": MassField(_("Largest load, Max"), required=True),
        "checked_date": DayField(_("Last checked")),
    }


def container() -> dict[str, Any]:
    return {
        "name": Typed(_("Name"), required=True),
        "tare_mg": MassField(_("Mass when empty"), required=True),
    }


def density_said(record: Any) -> str:
    """Show a polymer's density over where it comes from; a dash for none."""
    if not record.density_g_cm3:
        return "–"
    figure = number_format(record.density_g_cm3, use_l10n=True)
    source = record.density_source or _("source not given")
    return format_html('{}<br><span class="note">{}</span>', figure, source)


def polymer() -> dict[str, Any]:
    hint = _("Number in the triangle, ASTM D7611.")
    return {
        "code": Typed(
            _("Symbol"), size="short", required=True, help_text=_("ISO 1043-1, like PET or HDPE.")
        ),
        "name": Typed(_("Name in full")),
        "resin_code": WholeField(_("Resin code"), help_text=hint),
        "density_g_cm3": NumberField(_("Density of the solid"), unit="g/cm³"),
        "density_source": Typed(
            _("Where the density comes from"),
            size="long",
            help_text=_("A data sheet, a manual, or your own trials with their date."),
        ),
    }


def member() -> dict[str, Any]:
    roles = [(role, role_name(role)) for role in ("lead", "operator", "viewer")]
    hint = _("For somebody new here; at least 10 characters. Others keep their own.")
    password = Typed(
        _("First password"),
        help_text=hint,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    return {
        "name": Typed(_("Name in the book"), required=True),
        "username": Typed(_("Name for signing in"), required=True),
        "role": choice_field(_("Role"), roles, required=True),
        "password": password,
    }
