"""Tags of the pages about suspects: candidates and deviations in words, keys for buttons."""

from __future__ import annotations

import uuid
from urllib.parse import urlencode

from django import template
from django.template import Context
from django.urls import reverse

from recycling.records.suspects.affected import Affected, SuspectWay
from recycling.records.suspects.ranking import Candidate
from recycling.web.suspects import words

register = template.Library()
register.filter("candidate_said", words.candidate_said)
register.filter("candidate_named", words.candidate_named)
register.filter("deviation_said", words.deviation_said)
register.filter("chance", words.chance)
register.filter("worth", words.worth)


@register.simple_tag
def fresh_key() -> str:
    """Make a key for one button, so that a second press is not a second deed."""
    return f"press-{uuid.uuid4().hex}"


@register.simple_tag(takes_context=True)
def about(
    context: Context, page: str, one: Candidate | Affected | SuspectWay, spool: str = ""
) -> str:
    """Give the address of a page about a candidate."""
    query = {"of": one.key} | ({"spool": spool} if spool else {})
    return f"{reverse(page, args=[context['actor'].slug])}?{urlencode(query)}"


@register.filter
def followed(one: Candidate) -> bool:
    """Say whether a candidate can be followed forth to what it reached."""
    return one.kind not in ("open", "limit")


@register.filter
def holdable(one: Candidate) -> bool:
    """Say whether a candidate is something that can be put on hold."""
    return one.kind in ("origin", "lot", "run")


@register.filter
def share(value: float | None) -> str:
    """Write a share in percent; one that is hardly there is said to be a trace."""
    return words.share(value)


@register.filter
def figures(value: float | None, digits: int = 3) -> str:
    """Write a number with so many figures; a dash for none."""
    if value is None:
        return "–"
    return f"{value:.{digits}g}"
