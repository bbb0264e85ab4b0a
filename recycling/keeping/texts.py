"""What people write in their own words: how long it may be, and reasons that must be given."""

from __future__ import annotations

from shared.errors import Collected, Refused
from shared.said import say

LONGEST = 500


def check_text(text: str, pointer: str, found: Collected, longest: int = LONGEST) -> None:
    """Note a problem when a text is too long or holds characters that no one can see."""
    if len(text) > longest:
        found.add(
            "text-too-long", say("Keep this within {longest} characters.", longest=longest), pointer
        )
    if "\x00" in text:
        found.add("text-unreadable", "This text holds a character that cannot be kept.", pointer)


def require_reason(reason: str, pointer: str = "/reason") -> str:
    """Return the trimmed reason, or say that one is needed."""
    reason, found = reason.strip(), Collected()
    if not reason:
        raise Refused.because("reason-missing", "Say why, in a few words.", pointer)
    check_text(reason, pointer, found)
    found.refuse()
    return reason
