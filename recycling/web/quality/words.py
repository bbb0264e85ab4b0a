"""Words of declared checks and of what they say."""

from __future__ import annotations

from django.utils.translation import gettext as _

from recycling.records.quality.declared import QUANTITIES, RULES


def judged_said(answer: str) -> str:
    """Say what a check, or all of them, say of a product."""
    return {
        "passed": _("within limits"),
        "failed": _("outside limits"),
        "not judged": _("not decided"),
    }[answer]


def rule_said(rule: str) -> str:
    """Say by which rule a check is judged."""
    return _(RULES[rule])


def quantity_choices() -> list[tuple[str, str]]:
    """List what can be asked."""
    return [(key, _(one.label)) for key, one in QUANTITIES.items()]


def form_choices() -> list[tuple[str, str]]:
    """List the kinds of product that checks are declared for."""
    return [("filament", _("filament")), ("product", _("shaped product"))]
