"""What the page says of a declared field, in the language of the page."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext

from shared.declared import declared_in


def words_of(entry: type, name: str, kind: str = "") -> dict[str, Any]:
    """Give a form field its label and its help; its length is checked where it is recorded."""
    declared = declared_in(entry)[name].of(kind)
    said: dict[str, Any] = {"label": gettext(declared.label)}
    return said | ({"help_text": gettext(declared.help)} if declared.help else {})
