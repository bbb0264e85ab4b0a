"""Which signs a text may hold: what is refused at every door.

Refused are control characters (C0, C1), surrogates and noncharacters, since nobody can see them and
no file can be sure to carry them; what turns the direction of the letters around it; and, in texts
of one line, what ends a line. All else that a person can type is kept as it was typed.
Why: `docs/decisions/words_are_kept_as_typed.md`.

References
----------
.. [1] The Unicode Standard, 16.0: 23.1 control codes, 23.5 surrogates, 23.7 noncharacters.
.. [2] Unicode Standard Annex #9, 2.1 to 2.4: embeddings, overrides and isolates of direction.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any
from unicodedata import category

from shared.errors import Collected
from shared.said import say

LINES = frozenset({"note", "reason", "what"})
"""Names of the texts that may have several lines."""
UNSEEN = frozenset({"password", "pin"})
"""What is never shown or written: it may hold anything."""
_NEVER = (
    "\x00-\x09\x0b-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\u2066-\u2069\ufdd0-\ufdef"
    + "".join(f"{chr(plane + 0xFFFE)}{chr(plane + 0xFFFF)}" for plane in range(0, 0x110000, 2**16))
)
_IN_LINES = re.compile(f"(?!\r\n)[{_NEVER}]")
_IN_A_LINE = re.compile(f"[{_NEVER}\n\u2028\u2029]")
_IN_CODES = frozenset("0123456789-")


def strange_sign(text: str, lines: bool = False) -> str:
    """Return the first sign of a text that is not kept, or nothing.

    Parameters
    ----------
    text : str
        What was typed or sent.
    lines : bool
        Whether it may have several lines.

    Examples
    --------
    >>> strange_sign("Zoë 👩‍👧 שלום"), strange_sign("a\\x07b"), strange_sign("a\\nb", lines=True)
    ('', '\\x07', '')
    """
    found = (_IN_LINES if lines else _IN_A_LINE).search(text)
    return found[0] if found else ""


def no_code_sign(text: str) -> str:
    """Return the first sign of a code that is no letter, digit or hyphen, or nothing.

    Examples
    --------
    >>> no_code_sign("rPET-2"), no_code_sign("PE weiß")
    ('', ' ')
    """
    return next((one for one in text if not one.isalpha() and one not in _IN_CODES), "")


def is_blank(text: str) -> bool:
    """Say whether there is nothing to be seen in a text: spaces and signs without a shape.

    Examples
    --------
    >>> is_blank(" \\u200b"), is_blank("\\ue000"), is_blank("a")
    (True, False, False)
    """
    return all(category(one)[0] == "Z" or category(one) in ("Cc", "Cf") for one in text)


def sure(text: str) -> str:
    """Return a text for a file, marks of replacement for signs that older books may hold.

    Examples
    --------
    >>> sure("a\\x07b\\nc")
    'a\ufffdb\\nc'
    """
    return _IN_LINES.sub("\ufffd", text)


def check_signs(text: str, pointer: str, found: Collected, lines: bool = False) -> None:
    """Note a problem when a text holds a sign that is not kept, naming it and where it stands."""
    sign = strange_sign(text, lines)
    if not sign:
        return
    detail = say(
        "Sign {place} of this text is {name}, which cannot be kept: delete it there.",
        place=text.index(sign) + 1,
        name=f"U+{ord(sign[0]):04X}",
    )
    found.add("text-unreadable", detail, pointer)


def refuse_signs(given: Mapping[str, Any]) -> None:
    """Look through all that is given to a deed, entries by their fields, and refuse strange signs.

    Raises
    ------
    Refused
        With a problem for each text that holds one.
    """
    found = Collected()
    for pointer, name, text in _texts(given, "", ""):
        check_signs(text, pointer, found, name in LINES)
    found.refuse()


def refuse_sign(text: str, lines: bool = True) -> str:
    """Return a text, or refuse it when it holds a sign that is not kept."""
    found = Collected()
    check_signs(text, "", found, lines)
    found.refuse()
    return text


def _texts(given: Any, pointer: str, name: str) -> Iterator[tuple[str, str, str]]:
    """Give every text with its pointer and the name of its field."""
    if isinstance(given, str):
        yield pointer, name, given
    elif is_dataclass(given):
        for one in fields(given):
            if one.name not in UNSEEN:
                yield from _texts(getattr(given, one.name), f"{pointer}/{one.name}", one.name)
    elif isinstance(given, Mapping):
        for key, value in given.items():
            place = str(key).replace("~", "~0").replace("/", "~1")  # RFC 6901
            yield f"{pointer}/{place}", "", str(key)
            yield from _texts(value, f"{pointer}/{place}", name or str(key))
    elif isinstance(given, list | tuple | set | frozenset):
        for number, value in enumerate(given):
            yield from _texts(value, f"{pointer}/{number}", name)
