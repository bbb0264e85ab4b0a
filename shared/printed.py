"""What the fonts of our papers can print, and a box for each sign that they lack."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from unicodedata import category

BOX = "□"
JOINER = "\u200d"
_LISTED = Path(__file__).parent / "printed_letters.txt"
_ENTRIES = re.compile(r"^[^#].*$", re.MULTILINE)
_SHAPELESS = frozenset("\n\u3000\u061c\ufe0e\ufe0f")
"""What needs no letter of a font: ends of lines, spaces and selectors."""
_SKINS = frozenset(map(chr, range(0x1F3FB, 0x1F400)))


@cache
def printed_letters() -> frozenset[str]:
    """Return every sign that the fonts of our papers have."""
    found = set(_SHAPELESS)
    for line in _ENTRIES.findall(_LISTED.read_text(encoding="ascii")):
        for entry in line.split():
            first, _, last = entry.partition("-")
            found.update(map(chr, range(int(first, 16), int(last or first, 16) + 1)))
    return frozenset(found)


def boxed(text: str) -> str:
    """Put a box for each sign that no font has; what is joined to it or changes it goes with it.

    Examples
    --------
    >>> boxed("Zoë"), boxed("日本"), boxed("👨‍👩‍👧 Ana"), boxed("a\\x07")
    ('Zoë', '□□', '□ Ana', 'a□')
    """
    letters = printed_letters()
    if letters.issuperset(text):
        return text
    out: list[str] = []
    hidden = joined = False
    for sign in text:
        if hidden and (joined or _changes(sign)):
            joined = sign == JOINER
            continue
        joined, hidden = False, sign not in letters
        out.append(BOX if hidden else sign)
    return "".join(out)


def plainest(text: str, letters: frozenset[str]) -> str:
    """Keep the letters given and put a box for everything else that has a shape."""
    kept = (one for one in text if not _changes(one))
    return "".join(one if one in letters else BOX for one in kept)


def _changes(sign: str) -> bool:
    """Whether a sign only changes the one before it."""
    return category(sign)[0] == "M" or category(sign) == "Cf" or sign in _SKINS
