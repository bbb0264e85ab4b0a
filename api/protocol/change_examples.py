"""Bodies to start from for what puts right: facts, and what was noted of a run."""

from __future__ import annotations

from typing import Any

CHANGE_EXAMPLES: dict[str, dict[str, dict[str, Any]]] = {
    "SourceChange": {"a new name, no longer offered": {"name": "Hill School", "retired": True}},
    "ProgrammeChange": {"open-ended": {"funder": "Town fund", "empty": ["ends_date"]}},
    "OriginChange": {
        "another giver": {"reason": "the lists were swapped", "source": "Corner shop"},
        "counts towards nothing": {"reason": "not of this year", "programme": ""},
    },
    "LotChange": {
        "caps, not bottles": {"reason": "opened the bag", "form": "caps", "colour": "blue"},
        "length not known": {"reason": "the counter jumped", "empty": ["length_m"]},
    },
    "UndoBody": {"nothing else": {"undo_until": "2026-05-04T09:45:00Z"}},
    "VoidBody": {"with what followed": {"reason": "never took place", "with_descendants": True}},
    "RunChange": {
        "who worked": {"reason": "the sheet says so", "operators": ["Bo", "Ada"]},
        "a setting was misread, a check forgotten": {
            "reason": "misread",
            "settings": [{"noted": 12, "value": 245, "at": "2024-05-03T10:20:00+02:00"}],
            "checks": [{"key": "clean_after_purge", "value": "yes"}],
        },
    },
    "DeclareEntry": {
        "95 % within 0.04 mm": {
            "quantity": "diameter",
            "low": -0.04,
            "high": 0.04,
            "least": 12,
            "share_percent": 95,
            "sure_percent": 90,
            "defect": "diameter out of tolerance",
            "source": "own trials, March",
        },
        "asked no more": {
            "quantity": "ovality",
            "high": 0.05,
            "off": True,
            "source": "one axis is measured here",
        },
    },
    "SecondChoiceBody": {"for test prints": {"reason": "for test prints only"}},
    "AnswersBody": {"which day comes first": {"answers": {"date": "dmy", "unit": "kg"}}},
    "ImportUndoBody": {"brought twice": {"reason": "the list of last year"}},
}
