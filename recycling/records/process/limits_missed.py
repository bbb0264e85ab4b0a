"""Limits of a plastic that a run did not keep, each with what was found and what the limit is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shared.said import Said, say

SHORT, HOT, MOIST = "dried too short", "dried too hot", "moist after drying"
WET, OUTSIDE = "wet at the feed", "outside its window"


@dataclass(frozen=True)
class LimitMissed:
    """A limit that a run did not keep.

    Attributes
    ----------
    kind : str
        "dried too short", "dried too hot", "moist after drying", "wet at the feed" or
        "outside its window".
    polymer, lot : str
        Of which polymer; the lot that was fed, empty for the run as a whole.
    value, limit, upper : float
        What was found and its limit, in h, °C or percent; the upper limit of a range.
    measured : bool
        Whether the value was measured or set; else it is a bound that was worked out.
    at : datetime or None
        When the lot was fed: what was fed at another time may have kept the limit.
    changes : tuple of (datetime, str)
        From when on which value stood in the run, empty for one within its limit; none where it
        holds for the whole run.
    """

    kind: str
    polymer: str
    lot: str
    value: float
    limit: float
    upper: float = 0.0
    measured: bool = True
    at: datetime | None = None
    changes: tuple[tuple[datetime, str], ...] = ()

    @property
    def shown(self) -> str:
        """The value as it stands among the changes."""
        return f"{self.value:.6g}"

    @property
    def beyond(self) -> float:
        """How far it lies beyond its limit, in its own unit."""
        return max(self.limit - self.value, self.value - (self.upper or self.limit))

    @property
    def known_to_spoil(self) -> bool:
        """Whether it is known to spoil spools; a bound only says that it may."""
        return self.measured and self.kind != HOT

    @property
    def said(self) -> Said:
        """The same in words, with what to do."""
        values = {
            "polymer": self.polymer,
            "lot": self.lot,
            "value": f"{self.value:.3g}",
            "limit": f"{self.limit:.3g}",
            "upper": f"{self.upper:.3g}",
        }
        if self.kind == SHORT:
            return say(
                "{value} h at drying temperature; the recipe of {polymer} asks for {limit} h."
                " Dry it again.",
                **values,
            )
        if self.kind == HOT:
            return say(
                "Dried above {limit} °C for {value} h. {polymer} can stick together there.",
                **values,
            )
        if self.kind == MOIST:
            return say(
                "{value} % moisture after drying; the limit of {polymer} is {limit} %. Dry it"
                " again.",
                **values,
            )
        if self.kind == OUTSIDE:
            return say(
                "The hottest zone was at {value} °C; {polymer} is worked at {limit} to {upper} °C.",
                **values,
            )
        if not self.lot:
            return say(
                "{value} % moisture at the feed; the limit of {polymer} is {limit} %. Dry it"
                " again.",
                **values,
            )
        if self.measured:
            return say(
                "{lot} had {value} % moisture at the feed; the limit of {polymer} is {limit} %."
                " Dry it again.",
                **values,
            )
        return say(
            "{lot} had up to {value} % moisture at the feed; the limit of {polymer} is {limit} %."
            " Dry it again.",
            **values,
        )
