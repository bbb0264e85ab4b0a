"""Temperature ranges of materials: what two share, where they meet, and what is too hot.

The margins are this project's own choice: 10 K is about twice the swing of a zone on a bench
extruder (from memory).
"""

from dataclasses import dataclass

from recycling.calc.guards import finite
from shared.said import say

MARGIN_K = 10.0
"""Distance to be kept from the ends of the room that two materials share, K."""
LEAST_ROOM_K = 10.0
"""Least room that two materials must share to follow each other, K."""

CAUTION = say(
    "Hot metal and melt burn, and an overheated polymer gives off fumes: ventilate, wear what"
    " the machine's manual asks for, stand clear of the nozzle, and follow the polymer's data"
    " sheet and local rules."
)
"""Shown beside every plan and warning."""


@dataclass(frozen=True, slots=True)
class Window:
    """Temperature range of a polymer or purge compound.

    Attributes
    ----------
    name : str
        What it is.
    low_c, high_c : float
        Its two ends, °C.
    melts_c : float or None
        Melting point, °C; None for an amorphous material, or where nobody knows.
    """

    name: str
    low_c: float
    high_c: float
    melts_c: float | None = None

    def __post_init__(self) -> None:
        finite("low_c", self.low_c)
        if finite("high_c", self.high_c) <= self.low_c:
            raise ValueError(f"the window of {self.name} ends at or below its start")
        if self.melts_c is not None:
            finite("melts_c", self.melts_c)

    @property
    def least_c(self) -> float:
        """Lower end, raised to 10 K above the melting point, °C."""
        return self.low_c if self.melts_c is None else max(self.low_c, self.melts_c + MARGIN_K)

    def margin_k(self, temperature_c: float) -> float:
        """Distance to the nearer end, K; negative outside."""
        return min(temperature_c - self.least_c, self.high_c - temperature_c)


def shared_room(a: Window, b: Window) -> tuple[float, float] | None:
    """Temperatures between which both can be worked, °C, or None below 10 K of room.

    The lower end is raised to 10 K above the melting point of each.

    Examples
    --------
    >>> shared_room(Window("A", 180, 240, 165), Window("B", 225, 300, 225))
    >>> shared_room(Window("A", 180, 240, 165), Window("B", 220, 300))
    (220, 240)
    """
    low_c, high_c = max(a.least_c, b.least_c), min(a.high_c, b.high_c)
    return (low_c, high_c) if high_c - low_c >= LEAST_ROOM_K else None


def meeting_c(a: Window, b: Window, near_c: float) -> float | None:
    """Temperature at which one may follow the other, as near another as the room allows, °C.

    10 K inside the shared room, in its middle where it is narrower than 20 K; None without room.

    Examples
    --------
    >>> meeting_c(Window("A", 180, 240), Window("B", 170, 320), 300)
    230.0
    >>> meeting_c(Window("A", 180, 240), Window("B", 224, 320), 300)
    232.0
    """
    room = shared_room(a, b)
    if room is None:
        return None
    middle_c = (room[0] + room[1]) / 2
    return min(max(near_c, min(room[0] + MARGIN_K, middle_c)), max(room[1] - MARGIN_K, middle_c))


def kept_inside(window: Window, temperature_c: float) -> float:
    """Move a set point at least 5 K inside a range, to its middle where it is narrower, °C.

    Examples
    --------
    >>> kept_inside(Window("A", 180, 240), 240), kept_inside(Window("A", 180, 240), 210)
    (235.0, 210)
    """
    middle_c = (window.least_c + window.high_c) / 2
    low_c = min(window.least_c + MARGIN_K / 2, middle_c)
    high_c = max(window.high_c - MARGIN_K / 2, middle_c)
    return min(max(finite("temperature_c", temperature_c), low_c), high_c)


def window_warnings(held: Window, temperature_c: float) -> tuple[str, ...]:
    """Warn when a barrel holds a material at a temperature, °C, outside its range.

    Returns no sentence inside the range, else what is wrong and, above it, the caution.

    Examples
    --------
    >>> window_warnings(Window("A", 180, 240), 210)
    ()
    """
    if finite("temperature_c", temperature_c) > held.high_c:
        too_hot = say(
            "{material} at {at_c:g} °C is above its temperature range, which ends at"
            " {end_c:g} °C. It degrades in the barrel. Purge it out or cool down.",
            material=held.name,
            at_c=temperature_c,
            end_c=held.high_c,
        )
        return too_hot, CAUTION
    if temperature_c < held.low_c:
        too_cold = say(
            "{material} at {at_c:g} °C is below its temperature range, which starts at"
            " {end_c:g} °C. Do not turn the screw until it has melted.",
            material=held.name,
            at_c=temperature_c,
            end_c=held.low_c,
        )
        return (too_cold,)
    return ()
