"""Bodies to start from for reports and for telling others, in an invented workshop."""

from __future__ import annotations

from typing import Any

REPORT_EXAMPLES: dict[str, dict[str, dict[str, Any]]] = {
    "ReportEntry": {
        "a quarter, for a funder": {
            "from_date": "2024-04-01",
            "to_date": "2024-06-30",
            "programme": "Spring drive",
            "counts_as": "good product",
            "people_reached": 240,
            "signed_by": ["Lead of the workshop", "For the funder"],
        },
        "the same again, corrected": {
            "from_date": "2024-04-01",
            "to_date": "2024-06-30",
            "supersedes": "D1-K",
        },
        "thanks to a school": {
            "kind": "thanks",
            "from_date": "2024-04-01",
            "to_date": "2024-06-30",
            "source": "Hillside School",
        },
    },
    "ReportLinkBody": {"for a year": {"valid_days": 365}},
    "TellingEntry": {
        "a quarter": {"from": "2024-04-01T00:00:00+02:00", "to": "2024-07-01T00:00:00+02:00"},
        "one spool": {"lot": "S12-R"},
    },
}
