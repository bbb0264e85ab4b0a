"""Small tables that go with a form, so that a likely slip is asked about while it is typed."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from recycling.calc.balance.typed_limits import FIRST_USUAL_YEAR, LONG_BEFORE, OUT_OVER_IN
from recycling.calc.balance.usual_figures import kernel_width, rule
from recycling.queries.balance.usual_figures import Past, UsualHere
from recycling.stages.declaration import RECEIVED, Stage
from recycling.web.forms.choices import Choices
from recycling.web.forms.forms import EntryForm
from recycling.web.templatetags.look import word_for


def lay_usual(
    form: EntryForm,
    choices: Choices,
    usual: UsualHere,
    declared: Stage,
    rows: dict[str, str],
    takes: bool = False,
) -> None:
    """Let the page know what is usual of the masses in its rows, each with its form.

    An empty form is read from the row; `takes` says whether the page shows what goes in.
    """
    given = choices.listed_sources if declared.border == RECEIVED else []
    named = {one.id: one.name for one in given}
    pasts = {form: _table(past) for form, past in usual.by_form.items() if past.logs}
    pasts |= {
        f"{form}|{named[source]}": _table(past)
        for (form, source), past in usual.by_giver.items()
        if source in named
    }
    lots = [*choices.lots, *choices.other_lots] if takes else []
    forms = {form for form in (*usual.by_form, *rows.values()) if form}
    form.usual = {
        "rule": rule(),
        "largest": usual.largest_mg,
        "first": round(usual.first_at.timestamp() * 1000) if usual.first_at else None,
        "before": round(LONG_BEFORE.total_seconds() * 1000),
        "year": FIRST_USUAL_YEAR,
        "over": OUT_OVER_IN,
        "gains": declared.wets if takes else None,
        "rows": rows,
        "words": {one: word_for(one, "form") for one in sorted(forms)},
        "pasts": pasts,
        "lots": {one.code: one.mass_mg for one in lots},
        "texts": {
            "far": _("{what}: here {low} to {high} are usual; {mass} is far from that."),
            "above": _("{what}: {mass} is more than the largest scale here can carry."),
            "out": _("{what}: with {mass} more comes out than went in."),
            "more": _("Only {mass} is there by the book."),
            "later": _("This time is still to come."),
            "early": _("This is before 2000."),
            "before": _("This is long before the first entry of this book."),
        },
    }


def _table(past: Past) -> dict[str, Any]:
    width = round(kernel_width(past.logs), 4)
    return {"logs": list(past.logs), "width": width, "shares": past.shares}
