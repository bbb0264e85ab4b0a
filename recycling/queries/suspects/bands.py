"""The bands into which settings and the time left open fall, as a workshop has set them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from recycling.queries.setup.practice import practice_over
from recycling.records.setup.practice import PracticeRow

LIMIT = "open_limit_h"
OPEN_ENDS = ("open_band_h", "open_long_h")
WIDTHS = ("band_c", "band_per_min", "band_percent", "band_mm_s")
BAND_KEYS = (LIMIT, *OPEN_ENDS, *WIDTHS)
"""Settings of the workshop that the bands rest on."""

NOT_RECORDED = "not recorded"


@dataclass(frozen=True)
class Bands:
    """Widths of the bands of settings by unit, and ends of those of the time left open, in h.

    Up to the first end material lay open no longer than it may, so that is no candidate.
    """

    widths: Mapping[str, float]
    open_ends_h: tuple[float, ...]

    @property
    def limit_h(self) -> float:
        """Give the longest time open that is as it should be."""
        return self.open_ends_h[0]

    def of_open(self, open_h: float | None) -> str:
        """Name the band of a time left open; empty where it was short, as it should be."""
        if open_h is None:
            return NOT_RECORDED
        below = ""
        for end_h in self.open_ends_h:
            name = f"{end_h:g} h"
            if open_h <= end_h:
                return f"{below} to {name}" if below else ""
            below = name
        return f"over {below}"

    def of_setting(self, value: str, unit: str) -> str:
        """Name the band that a setting's value falls into; the value itself if it is no number."""
        try:
            width = self.widths.get(unit, 1)
            place = math.floor(float(value.replace(",", ".")) / width)
        except (ValueError, OverflowError):
            return value
        return f"{place * width:.12g} to {(place + 1) * width:.12g} {unit}".strip()


def bands_by(rows: Mapping[str, PracticeRow]) -> Bands:
    """Give the bands that a workshop's settings make; an end below the limit counts for none."""
    limit_h = rows[LIMIT].value
    later = sorted({rows[key].value for key in OPEN_ENDS})
    return Bands(
        {rows[key].unit: rows[key].value for key in WIDTHS},
        (limit_h, *(end_h for end_h in later if end_h > limit_h)),
    )


FIRST_BANDS = bands_by(practice_over(()))
"""The bands of a workshop that has set none."""
