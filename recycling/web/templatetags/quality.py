"""Words and signs for whether a product is good."""

from __future__ import annotations

from django import template

from recycling.web.quality import words

register = template.Library()
register.filter("judged_said", words.judged_said)
register.filter("rule_said", words.rule_said)


@register.filter
def judged_sign(state: str) -> str:
    """Give the sign of a state; a shape beside the word, never colour alone."""
    return {"passed": "good", "failed": "bad"}.get(state, "due")
