"""What is asked of labels: which lots, which sheet, where to start; remembered for this device."""

from __future__ import annotations

import hashlib
import re
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest
from django.utils.formats import number_format
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from recycling.figures.label_sheets import INCH_MM, SHEETS
from recycling.records.labels.labels import LabelPrint, LabelSheet
from recycling.web.forms.fields import NumberField, WholeField, choice_field
from recycling.web.forms.plain import PlainForm

FIELDS = ("sheet", "start", "copies", "right_mm", "down_mm")
REMEMBERED = ("sheet", "copies", "right_mm", "down_mm")
FIRST = LabelPrint()
MOST_CODES = 600
LONGEST_IN_ADDRESS = 1500
"""Characters of codes; servers take addresses of some 4,000, and longer choices are kept."""
CHOSEN, CHOICES_KEPT = "labels_chosen", 4


class LabelForm(PlainForm):
    """The sheet, where to start, how many of each, and by how much the printer is off."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        sheets = [(key, sheet_words(sheet)) for key, sheet in SHEETS.items()]
        self.fields["sheet"] = choice_field(_("Sheet or single label"), sheets, few=False)
        self.fields["start"] = WholeField(
            _("Start at label"), help_text=_("Row by row; 1 is the top left one.")
        )
        self.fields["copies"] = WholeField(_("Of each"))
        self.fields["right_mm"] = NumberField(
            _("Shift to the right"), unit="mm", help_text=_("Minus shifts to the left.")
        )
        self.fields["down_mm"] = NumberField(
            _("Shift down"), unit="mm", help_text=_("Minus shifts up.")
        )

        for field in self.fields.values():
            field.plain = True  # type: ignore[attr-defined]

    def wanted(self) -> LabelPrint:
        """Give what was entered; what was left empty is as at first."""
        given = {name: self.cleaned_data.get(name) for name in FIELDS}
        kept = {name: value for name, value in given.items() if value not in (None, "")}
        return LabelPrint(**kept)


def sheet_words(sheet: LabelSheet) -> str:
    """Say a sheet in words: page, labels on it, and the size of one."""
    inches = sheet.page == "Letter" or sheet.width_mm == 4 * INCH_MM
    size = f"{_length(sheet.width_mm)} × {_length(sheet.height_mm)} mm"
    if inches:
        size += f" ({_inch(sheet.width_mm)} × {_inch(sheet.height_mm)} in)"
    if sheet.page == "single":
        return gettext("Single label, {size}").format(size=size)
    page = gettext("US Letter") if sheet.page == "Letter" else sheet.page
    said = ngettext(
        "{page}, {count} label of {size}", "{page}, {count} labels of {size}", sheet.labels
    )
    return said.format(page=page, count=sheet.labels, size=size)


def _length(length_mm: float) -> str:
    return number_format(f"{round(length_mm, 1):g}")


def _inch(length_mm: float) -> str:
    return number_format(f"{round(length_mm / INCH_MM, 3):g}")


def codes_asked(request: HttpRequest) -> list[str]:
    """Read codes from all `lots` that were sent, each of which may hold several, or a choice."""
    sent: Any = request.POST if request.method == "POST" else request.GET
    if chosen := sent.get("chosen"):
        return list(request.session.get(CHOSEN, {}).get(chosen, []))
    typed = sent.getlist("lots")
    codes = [code for text in typed for code in re.split(r"[\s,;]+", text) if code]
    return list(dict.fromkeys(codes))[: MOST_CODES + 1]


def form_asked(request: HttpRequest) -> LabelForm:
    """Fill the form from the address, from what this device printed last, and from the first."""
    kept = {name: getattr(FIRST, name) for name in FIELDS}
    kept |= request.session.get("labels", {})
    kept |= {name: request.GET[name] for name in FIELDS if request.GET.get(name)}
    return LabelForm({name: str(value) for name, value in kept.items()})


def remember(request: HttpRequest, wanted: LabelPrint) -> None:
    """Keep the sheet and the printer's shift for this device."""
    kept = {name: getattr(wanted, name) for name in REMEMBERED}
    if request.session.get("labels") != kept and any(name in request.GET for name in FIELDS):
        request.session["labels"] = kept


def query_of(request: HttpRequest, codes: list[str], **more: Any) -> str:
    """Write an address's question for these codes, short however many there are."""
    text = ",".join(codes)
    if len(text) <= LONGEST_IN_ADDRESS:
        return urlencode({"lots": text, **more})
    return urlencode({"chosen": _keep_choice(request, codes), **more})


def paper_of(wanted: LabelPrint) -> dict[str, Any]:
    """Give what an address says of the paper."""
    return {name: getattr(wanted, name) for name in FIELDS}


def _keep_choice(request: HttpRequest, codes: list[str]) -> str:
    name = hashlib.sha256(" ".join(codes).encode()).hexdigest()[:12]
    kept = request.session.get(CHOSEN, {})
    if name not in kept:
        latest = list(kept.items())[1 - CHOICES_KEPT :]
        request.session[CHOSEN] = {**dict(latest), name: codes}
    return name
