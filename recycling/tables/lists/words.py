"""Words that lists have in their heads and cells, by what they mean, in seven languages.

English, German, Portuguese, French, Spanish, Italian and Dutch, as people write them, in
``words.json``; matched folded (`folded.py`). The words are the project's own choice; nobody else's
table stands behind it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

from recycling.tables.lists.folded import folded
from shared.units import MG_PER_UNIT

AT, TIME, SOURCE, POLYMER, FORM, COLOUR = "at", "time", "source", "polymer", "form", "colour"
MASS, GROSS, TARE, COUNT, AMOUNT, UNIT = "mass", "gross", "tare", "count", "amount", "unit"
NOTE, BAG, PROGRAMME, CONSENT, KIND = "note", "bag", "programme", "consent", "kind"
SUPPLIER, DOCUMENT, LINE = "supplier", "document", "line"

_WORDS: Mapping[str, Any] = json.loads(
    (Path(__file__).parent / "words.json").read_text(encoding="utf-8")
)
MG: Mapping[str, Decimal] = {**MG_PER_UNIT, "t": Decimal(10**9)}
"""Milligrams in one unit."""


def _set(words: str) -> frozenset[str]:
    """Fold words that stand with commas between."""
    return frozenset(folded(word) for word in words.split(","))


def _by_word(table: Mapping[str, str]) -> dict[str, str]:
    """Turn a table of words around: each folded word to what it means; the first stands."""
    turned: dict[str, str] = {}
    for meaning, words in table.items():
        for word in words.split(","):
            turned.setdefault(folded(word), meaning)
    return turned


HEAD_WORDS = _by_word(_WORDS["heads"])
"""What may stand over a column, to the field that the column is."""
UNIT_WORDS = _by_word(_WORDS["units"])
FORM_WORDS = _by_word(_WORDS["forms"])
POLYMER_WORDS = _by_word(_WORDS["polymers"])
"""Names of polymers, to the code under which a workshop usually has them."""
KIND_WORDS = _by_word(_WORDS["kinds"])
TOTALS = _set(_WORDS["totals"])
JOINS = _set(_WORDS["joins"])
"""Small words that a head may have around its unit."""
DITTOS = frozenset(
    ('"', "''", "”", "“", "„", "〃", "″", '-"-', "-”-", '" "', "´´", "``", "do", "do.", "dito",
     "dto", "dto.", "ditto", "idem", "id.", "s.o.", "wie oben", "siehe oben", "as above", "w.o.")
)  # fmt: skip
"""Marks that stand for what stands above."""
EXAMPLES = frozenset(("example", "beispiel"))
"""First words of a cell in the row that a template shows, which is nobody's bag."""
