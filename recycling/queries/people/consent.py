"""Who may be named outside the workshop: the one rule, for reports, public pages and exports.

A source is named where it has agreed to that, whatever kind of source it is, and nobody else
is. It is asked anew whenever something is written or shown; whoever takes it back is not named
in anything new, and closes the public addresses of what names it.
"""

from __future__ import annotations

from django.db.models import Q

from recycling.models import Source

SMALL_GROUP = 3
"""Fewer sources of a kind than this are not shown as a group of their own."""


def agreed(source: str = "") -> Q:
    """Choose rows whose source agrees to be named; `source` is the way to it from the row."""
    return Q(**{f"{source}__may_be_named" if source else "may_be_named": True})


def names_agreed(workshop_id: int) -> set[str]:
    """Give the names of all sources of a workshop that agree to be named."""
    sources = Source.objects.filter(agreed(), workshop_id=workshop_id)
    return set(sources.values_list("name", flat=True))
