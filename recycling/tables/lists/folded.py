"""Words as people mean them: case, accents and punctuation put aside; and how near two are."""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Iterable, Mapping

_OTHER = str.maketrans({"ß": "ss", "ø": "o", "œ": "oe", "æ": "ae", "ł": "l", "đ": "d", "ð": "d"})
_NO_WORD = re.compile(r"[^\w#]+|_+")
NEAR, NEAR_HEAD = 80, 88
"""From how many of 100 a name, or a head, is near enough to be proposed, or taken."""
SHORTEST = 3


@functools.lru_cache(maxsize=65_536)
def folded(text: str) -> str:
    """Fold a text: small letters without accents, words parted by one space.

    Examples
    --------
    >>> folded("  Café  MARÉ-Baixa. "), folded("Straße"), folded("Sack-Nr.")
    ('cafe mare baixa', 'strasse', 'sack nr')
    """
    apart = unicodedata.normalize("NFKD", text.casefold().translate(_OTHER))
    bare = "".join(sign for sign in apart if not unicodedata.combining(sign))
    return " ".join(_NO_WORD.sub(" ", bare).split())


def nearness(one: str, other: str) -> int:
    """Say of two folded texts how much of them is the same, from 0 to 100.

    Twice the longest common subsequence by the length of both; where all words of one are in the
    other, or both have the same words in another order, at least `NEAR`.

    Examples
    --------
    >>> nearness("fen lane primary", "fen lane primary school")
    82
    >>> nearness("brickfield", "brickfeild"), nearness("brickfield", "harbour")
    (90, 24)
    >>> nearness("primary fen lane", "fen lane primary"), nearness("ann", "mary ann smith")
    (100, 80)
    """
    if not one or not other:
        return 0
    words, others = one.split(), other.split()
    if sorted(words) == sorted(others):
        return 100
    found = round(200 * _common(one, other) / (len(one) + len(other)))
    fewer, more = sorted((set(words), set(others)), key=len)
    inside = fewer < more and max(map(len, fewer)) >= SHORTEST
    return max(found, NEAR) if inside else found


def _common(one: str, other: str) -> int:
    """Length of the longest common subsequence, by bits (Hyyrö 2004)."""
    places: dict[str, int] = {}
    for place, sign in enumerate(one):
        places[sign] = places.get(sign, 0) | 1 << place
    every = (1 << len(one)) - 1
    row = every
    for sign in other:
        met = row & places.get(sign, 0)
        row = (row + met | row - met) & every
    return len(one) - row.bit_count()


def nearest(text: str, names: Mapping[str, str] | Iterable[str], least: int = NEAR) -> list[str]:
    """List the names that are near a text, the nearest first; names are folded, or stand under it.

    Examples
    --------
    >>> nearest("Fen Lane", {"fen lane primary": "Fen Lane Primary", "harbour": "Harbour"})
    ['Fen Lane Primary']
    """
    named = names if isinstance(names, Mapping) else {folded(name): name for name in names}
    wanted = folded(text)
    near = [(nearness(wanted, key), name) for key, name in named.items()]
    return [name for grade, name in sorted(near, key=lambda one: -one[0]) if grade >= least]
