"""The question and what is believed beforehand, as a form that works by address alone."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.http import HttpRequest, QueryDict
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from recycling.calc.suspects.priors import USUAL, SuspectPriors
from recycling.records.quality.verdicts import DEFECTS
from recycling.records.suspects.ranking import KINDS, SuspectQuestion
from recycling.web.book_words import DEFECTS as DEFECTS_SAID
from recycling.web.forms.fields import DayField, NumberField, WholeField, choice_field
from recycling.web.pages.periods import FIRST_DAY, LAST_DAY
from recycling.web.suspects.words import KINDS_SAID

PERCENT = 100.0
DEFAULT = USUAL
QUESTION = ("defect", "polymer", "start", "end", "kinds")
BELIEFS = (
    "cause",
    "background",
    "background_weight",
    "spoil",
    "spoil_weight",
    "full_share",
    "power",
    "exposed_share",
    "lead",
    "least_judged",
    "least_bad",
)
PLACE_OF = {
    "cause_probability": "cause",
    "background_alpha": "background",
    "background_beta": "background",
    "spoil_alpha": "spoil",
    "spoil_beta": "spoil",
    "curve_power": "power",
    "lead_posterior": "lead",
}
"""Name in the calculation → field of the form, where they differ."""

STARTING = {
    "cause": f"{DEFAULT.cause_probability * PERCENT:g}",
    "background": f"{DEFAULT.background_mean * PERCENT:g}",
    "background_weight": f"{DEFAULT.background_alpha + DEFAULT.background_beta:g}",
    "spoil": f"{DEFAULT.spoil_alpha / (DEFAULT.spoil_alpha + DEFAULT.spoil_beta) * PERCENT:.4g}",
    "spoil_weight": f"{DEFAULT.spoil_alpha + DEFAULT.spoil_beta:g}",
    "full_share": f"{DEFAULT.full_share * PERCENT:g}",
    "power": f"{DEFAULT.curve_power:g}",
    "exposed_share": f"{DEFAULT.exposed_share * PERCENT:g}",
    "lead": f"{DEFAULT.lead_posterior * PERCENT:g}",
    "least_judged": f"{DEFAULT.least_judged}",
    "least_bad": f"{DEFAULT.least_bad}",
}


def _percent(label: Any, hint: Any = "") -> NumberField:
    return NumberField(label, unit="%", help_text=hint)


class AskForm(forms.Form):
    """What to look at, and what is believed before any verdict."""

    def __init__(self, data: QueryDict | None, polymers: list[str]) -> None:
        asked = _with_defaults(data) if data else None
        super().__init__(asked, initial=STARTING | {"kinds": list(KINDS)}, label_suffix="")
        said = [(defect, DEFECTS_SAID[defect]) for defect in DEFECTS]
        add = self.fields
        add["defect"] = choice_field(_("Defect"), said, empty=_("any"), few=False)
        named = [(code, code) for code in polymers]
        add["polymer"] = choice_field(_("Polymer"), named, empty=_("any"), few=False)
        add["start"] = DayField(_("Made from"))
        add["end"] = DayField(_("Made until"))
        add["kinds"] = forms.MultipleChoiceField(
            label=_("What can be to blame"),
            choices=[(kind, KINDS_SAID[kind]) for kind in KINDS],
            widget=forms.CheckboxSelectMultiple,
            required=False,
        )
        self._add_beliefs()

    def _add_beliefs(self) -> None:
        add = self.fields
        add["cause"] = _percent(
            _("Chance that one of these is to blame"),
            _("Before any verdict; it is spread evenly over all of them."),
        )
        add["background"] = _percent(
            _("Background: bad for another reason"),
            _("Of a hundred spools, as many as print badly without any of these."),
        )
        add["background_weight"] = NumberField(
            _("As sure of that as after"), unit=_("spools"), help_text=_("Few: learn it quickly.")
        )
        add["spoil"] = _percent(
            _("Spoilt when fully exposed"),
            _("Of a hundred spools that hold enough of the cause, as many as it spoils."),
        )
        add["spoil_weight"] = NumberField(_("As sure of that as after"), unit=_("spools"))
        add["full_share"] = _percent(
            _("Share of full exposure"),
            _("From this part of a spool on, more makes no difference."),
        )
        add["power"] = NumberField(
            _("Shape of the curve below that"), help_text=_("1: in proportion. 2: slow at first.")
        )
        add["exposed_share"] = _percent(_("Counts as exposed in the plain table from"))
        add["lead"] = _percent(_("Called a suspect from a posterior of"))
        add["least_judged"] = WholeField(_("Too little evidence below, judged"), unit=_("spools"))
        add["least_bad"] = WholeField(_("and below, bad ones that hold it"), unit=_("spools"))

    @property
    def question_fields(self) -> list[forms.BoundField]:
        """Give the fields of what to look at, but for the kinds."""
        return [self[name] for name in QUESTION if name != "kinds"]

    @property
    def belief_fields(self) -> list[forms.BoundField]:
        """Give the fields of what is believed beforehand."""
        return [self[name] for name in BELIEFS]

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if self.errors:
            return given
        start, end = given["start"], given["end"]
        if start and end and end < start:
            self.add_error("end", _("The period ends before it starts."))
        for name in ("start", "end"):
            if given.get(name) and not FIRST_DAY <= given[name] <= LAST_DAY:
                self.add_error(name, _("Check the year."))
        if self.errors:
            return given
        try:
            self.priors = _priors(given)
        except ValueError as error:
            name = str(error).partition(" ")[0]
            self.add_error(PLACE_OF.get(name, name), _out_of_range(name))
        self.question = SuspectQuestion(
            defects=tuple(filter(None, [given["defect"]])),
            polymer=given["polymer"],
            start=_midnight(start) if start else None,
            end=_midnight(end + timedelta(days=1)) if end else None,
            kinds=() if len(given["kinds"]) in (0, len(KINDS)) else tuple(given["kinds"]),
        )
        return given


def _out_of_range(name: str) -> Any:
    if name.endswith(("_alpha", "_beta")):
        return _(
            "The percentage and its weight together are too far out: each of the chances for and"
            " against needs at least half a spool's weight."
        )
    if name.startswith("least"):
        return _("At least 1.")
    if name == "curve_power":
        return _("More than 0.")
    if name in ("full_share", "exposed_share"):
        return _("More than 0 and at most 100.")
    return _("More than 0 and less than 100.")


def _priors(given: dict[str, Any]) -> SuspectPriors:
    background, spoil = given["background"] / PERCENT, given["spoil"] / PERCENT
    return SuspectPriors(
        cause_probability=given["cause"] / PERCENT,
        background_alpha=round(background * given["background_weight"], 9),
        background_beta=round((1 - background) * given["background_weight"], 9),
        spoil_alpha=_near(spoil * given["spoil_weight"], DEFAULT.spoil_alpha),
        spoil_beta=_near((1 - spoil) * given["spoil_weight"], DEFAULT.spoil_beta),
        full_share=given["full_share"] / PERCENT,
        curve_power=given["power"],
        exposed_share=given["exposed_share"] / PERCENT,
        lead_posterior=given["lead"] / PERCENT,
        least_judged=given["least_judged"],
        least_bad=given["least_bad"],
    )


def _near(value: float, default: float) -> float:
    """Read a third that was shown with four figures as the third that it is."""
    return default if abs(value - default) < 1e-3 else round(value, 9)


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), timezone.get_current_timezone())


def _with_defaults(data: QueryDict) -> QueryDict:
    full = data.copy()
    for name, value in STARTING.items():
        if not full.get(name, "").strip():
            full[name] = value
    if "kinds" not in full:
        full.setlist("kinds", list(KINDS))
    return full


def asked(request: HttpRequest, polymers: list[str]) -> AskForm:
    """Read the question from the address; an address without one asks about everything."""
    data = request.POST if request.method == "POST" else request.GET
    return AskForm(data or QueryDict("plain=1"), polymers)
