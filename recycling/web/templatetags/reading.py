"""Tags of the reading pages: addresses of codes, tags of lots, words for keys."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template
from django.template import Context
from django.utils.formats import number_format
from django.utils.safestring import SafeString

from recycling.records.balance.known_masses import KnownMass
from recycling.records.lots.origins import LotOrigins
from recycling.records.runs.runs import RunRecord
from recycling.web import book_words
from recycling.web.languages import in_language
from recycling.web.pages.read import code_url
from recycling.web.templatetags.look import kg

register = template.Library()
register.filter("said", book_words.said)
register.filter("stage_said", book_words.stage_said)
register.filter("in_language", in_language)
register.filter("keeps_heel", book_words.keeps_heel)
register.simple_tag(book_words.above_limit)
register.filter("fact_said", book_words.fact_said)
register.simple_tag(book_words.fact_value_said, name="fact_value")


@register.simple_tag(takes_context=True)
def page_of(context: Context, code: str) -> str:
    """Give the address of the page of whatever a code names."""
    return code_url(context["actor"].slug, code)


def _rendered(context: Context, name: str, inside: dict[str, Any]) -> SafeString:
    assert context.template is not None, "a tag is shown within a template"
    return context.template.engine.render_to_string(f"components/{name}.html", inside)


@register.simple_tag(takes_context=True)
def lot_tag(
    context: Context, code: str, form: str, held: bool = False, spool: bool = False
) -> SafeString:
    """Show a lot as its tag, linked to its page."""
    url = code_url(context["actor"].slug, code)
    lot = {"code": code, "form": "spool" if spool else form, "held": held, "url": url}
    return _rendered(context, "lot_chip", {"lot": lot})


@register.simple_tag(takes_context=True)
def code_link(context: Context, code: str) -> SafeString:
    """Show a code, linked to its page; nothing where there is none."""
    if not code:
        return SafeString("–")
    return _rendered(context, "code", {"code": code, "url": code_url(context["actor"].slug, code)})


@register.filter
def run_state(state: str) -> str:
    """Give the state word of a run's state."""
    return {"void": "voided"}.get(state, state)


@register.filter
def closes_sign(closes: str) -> str:
    """Give the sign of how a run closes: good, due for a look, or not balanced."""
    signs = {"closed within weighing": "good", "usual": "good", "to look at": "due"}
    return signs.get(closes, "unbalanced")


@register.filter
def exact_kg(mass_mg: int | None) -> str:
    """Show whole milligrams in kilograms down to the milligram."""
    return kg(mass_mg, 6).replace("-", "−")


@register.filter
def magnitude(mass_mg: int) -> int:
    """Give the size of a mass without its sign."""
    return abs(mass_mg)


@register.filter
def grams(mass_mg: int | None) -> str:
    """Show whole milligrams as a bare figure in grams, down to the milligram."""
    if mass_mg is None:
        return "–"
    return number_format(Decimal(mass_mg).scaleb(-3), decimal_pos=3, use_l10n=True)


@register.filter
def signed_kg(mass_mg: int) -> str:
    """Show what a posting moved in kilograms, to the milligram, always with its sign."""
    sign = "−" if mass_mg < 0 else "+"
    return f"{sign}{exact_kg(abs(mass_mg))}"


@register.filter
def traces_share(origins: LotOrigins) -> float:
    """Give the share of a lot whose origin lies below the floor."""
    return origins.traces_mg / origins.mass_mg if origins.mass_mg else 0.0


@register.filter
def unaccounted_share(run: RunRecord) -> float:
    """Give what is unaccounted for as a share of what went in."""
    return (run.unaccounted_mg or 0) / run.inputs_mg


@register.filter
def account_said(account: str) -> str:
    """Say an account in words."""
    return book_words.said(account, "account")


@register.filter
def closes_said(closes: str) -> str:
    """Say in words how a run closes."""
    return book_words.said(closes, "closes")


@register.filter
def of(masses: dict[str, KnownMass], name: str) -> KnownMass | None:
    """Find how sure the mass of a lot is; None where nobody typed it."""
    return masses.get(name)
