"""The head of a column: the field that it names, and the unit that stands in it."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass

from recycling.tables.lists.folded import NEAR_HEAD, folded, nearness
from recycling.tables.lists.words import HEAD_WORDS, JOINS, MASS, UNIT_WORDS

LONGEST_HEAD, SHORTEST_NEAR = 80, 5
_APART = re.compile(r"(?<=[a-z])(?=[A-Z])|_")


@dataclass(frozen=True)
class Column:
    """A column of a table.

    Attributes
    ----------
    place : int
        Its place in the row, from 0.
    head : str
        What stands over it.
    field : str
        What it is; empty where nobody knows.
    unit : str
        The unit in its head, or in the row below.
    """

    place: int
    head: str
    field: str
    unit: str = ""


@functools.lru_cache(maxsize=8_192)
def field_of(head: str) -> tuple[str, str]:
    """Say which field a head names, and its unit; empty where none is known.

    Examples
    --------
    >>> field_of("Gewicht (kg)"), field_of("Who gave"), field_of("Gramm"), field_of("Peso em kg")
    (('mass', 'kg'), ('source', ''), ('mass', 'g'), ('mass', 'kg'))
    >>> field_of("Netto [g]"), field_of("mass_mg"), field_of("Wieght kg"), field_of("Temperature")
    (('mass', 'g'), ('mass', 'mg'), ('mass', 'kg'), ('', ''))
    """
    if len(head) > LONGEST_HEAD:
        return "", ""
    words = folded(head).split()
    if not words:
        return ("line", "") if head.strip() == "#" else ("", "")
    for each in (words, folded(_APART.sub(" ", head)).split()):
        named, unit = _named(each)
        if named:
            return named, unit
    return "", ""


def _named(words: list[str]) -> tuple[str, str]:
    whole = HEAD_WORDS.get(" ".join(words), "")
    if whole:
        return whole, ""
    units = [word for word in words if word in UNIT_WORDS]
    if len(units) > 1 and len({UNIT_WORDS[word] for word in units}) > 1:
        return "", ""
    unit = UNIT_WORDS[units[0]] if units else ""
    rest = [word for word in words if word not in UNIT_WORDS]
    for phrase in (rest, _without_joins(rest)):
        said = " ".join(phrase)
        if said in HEAD_WORDS:
            return HEAD_WORDS[said], unit
    if unit and not _without_joins(rest):
        return MASS, unit
    return _near(" ".join(_without_joins(rest))), unit


def _without_joins(words: list[str]) -> list[str]:
    words = list(words)
    while words and words[-1] in JOINS:
        words.pop()
    while words and words[0] in JOINS:
        words.pop(0)
    return words


def _near(said: str) -> str:
    """Find the field whose words are near; none where two fields' are equally near."""
    if len(said) < SHORTEST_NEAR:
        return ""
    grades: dict[str, int] = {}
    for word, field in HEAD_WORDS.items():
        if abs(len(word) - len(said)) <= 3 and len(word) >= SHORTEST_NEAR:
            grades[field] = max(grades.get(field, 0), _letters(said, word))
    if not grades:
        return ""
    most = max(grades.values())
    best = [field for field, grade in grades.items() if grade == most]
    return best[0] if most >= NEAR_HEAD and len(best) == 1 else ""


def _letters(one: str, other: str) -> int:
    """Grade nearness by letters alone: words inside each other say nothing of a head.

    A swap of two letters counts as one slip, which is the usual one.
    """
    if sorted(one) == sorted(other) and one[0] == other[0]:
        return max(NEAR_HEAD, nearness(one, other)) if len(one) > 4 else 0
    grade = nearness(one, other)
    return (
        grade if abs(len(one) - len(other)) <= 3 and len(one.split()) == len(other.split()) else 0
    )
