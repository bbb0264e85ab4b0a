"""What people write in their own words: how long it may be, and reasons that must be given."""

from __future__ import annotations

from typing import Any

from shared.declared import lengths_in
from shared.errors import Collected, Refused
from shared.said import say
from shared.texts import LINES, check_signs

LONGEST = 500


def check_text(text: str, pointer: str, found: Collected, longest: int = LONGEST) -> None:
    """Note a problem when a text is too long or holds signs that are not kept."""
    if len(text) > longest:
        found.add(
            "text-too-long", say("Keep this within {longest} characters.", longest=longest), pointer
        )
    check_signs(text, pointer, found, pointer.rpartition("/")[2] in LINES)


def check_texts(entry: Any, pointer: str, found: Collected) -> None:
    """Note a problem for each text of an entry that is longer than declared, or cannot be kept."""
    for name, longest in lengths_in(type(entry)).items():
        check_text(getattr(entry, name), f"{pointer}/{name}", found, longest)


def require_reason(reason: str, pointer: str = "/reason") -> str:
    """Return the trimmed reason, or say that one is needed."""
    reason, found = reason.strip(), Collected()
    if not reason:
        raise Refused.because("reason-missing", "Say why, in a few words.", pointer)
    check_text(reason, pointer, found)
    found.refuse()
    return reason
