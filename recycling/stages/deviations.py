"""What a run did otherwise than its stage usually does: recorded as it was, and said plainly.

A deviation is a key with values, of a run as a whole or of one lot that it drew. The sentence is
made of them, so that it can be said again in another language.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from recycling.stages.declaration import Stage
from shared.said import Said, say

FORM, UNDRIED, MIXED_UP, AGAIN = "form-unusual", "fed-undried", "polymers-mixed", "melted-n-times"
POLYMER = "polymer-unusual"
MELTED_OFTEN = 3
"""From so many times in the melt on it is said: each pass through it costs chain length."""


@dataclass(frozen=True)
class DrawnLot:
    """A lot that a run drew, as far as deviations ask.

    Attributes
    ----------
    lot, form, polymer : str
        Its code and what it is.
    needs_drying : bool or None
        Whether its polymer must be dry when it melts; None where that is not known.
    dried : bool or None
        Whether it was dried and has not been wet or melted since; None where it is not known.
    melted : int
        How often some of it was melted before.
    """

    lot: str
    form: str
    polymer: str
    needs_drying: bool | None
    dried: bool | None
    melted: int


@dataclass(frozen=True)
class Departure:
    """A deviation as it is kept: its key, the lot it is about, and the values of its sentence."""

    key: str
    lot: str
    values: dict[str, Any]

    @property
    def said(self) -> Said:
        """The sentence."""
        return SAID[self.key](self.lot, self.values)


def departures(declared: Stage, drawn: list[DrawnLot], same: list[str]) -> Iterator[Departure]:
    """Say what was unusual about what a run drew and gave.

    Parameters
    ----------
    declared : Stage
        The stage of the run.
    drawn : list of DrawnLot
        What it drew, in the order drawn.
    same : list of str
        Side streams of a polymer that is usually another than the run's, by form.

    Yields
    ------
    Departure
        Of each lot, then of the run. Nothing where no work is done: at the border, at a count.
    """
    if not declared.works:
        return
    worked = [one for one in drawn if not declared.fed_besides(one.form)]
    for one in drawn:
        yield from _of_lot(declared, one)
    polymers = list(dict.fromkeys(one.polymer for one in worked))
    if len(polymers) > 1:
        yield Departure(MIXED_UP, "", {"polymers": ", ".join(polymers)})
    times = 1 + max((one.melted for one in worked), default=0)
    if declared.melts and times >= MELTED_OFTEN:
        yield Departure(AGAIN, "", {"times": times})
    for form in dict.fromkeys(same):
        yield Departure(POLYMER, "", {"form": form})


def _of_lot(declared: Stage, one: DrawnLot) -> Iterator[Departure]:
    undried = (
        declared.melts
        and one.needs_drying
        and one.dried is False
        and not declared.fed_besides(one.form)
    )
    if undried:
        yield Departure(UNDRIED, one.lot, {"form": one.form, "polymer": one.polymer})
    if undried and one.form in declared.usual_forms:
        return
    if not declared.usually_takes(one.form, one.needs_drying):
        values = {"form": one.form, "polymer": one.polymer, "stage": declared.title}
        yield Departure(FORM, one.lot, values)


SAID: dict[str, Callable[[str, dict[str, Any]], Said]] = {
    FORM: lambda lot, values: say(
        "{lot} is {form} of {polymer}: “{stage}” usually takes something else.",
        lot=lot,
        **values,
    ),
    UNDRIED: lambda lot, values: say(
        "{lot} ({form} of {polymer}) went into the melt without having been dried: damp"
        " {polymer} loses strength there.",
        lot=lot,
        **values,
    ),
    MIXED_UP: lambda _lot, values: say(
        "Different polymers were worked on together: {polymers}.", **values
    ),
    AGAIN: lambda _lot, values: say(
        "Pass {times} through the melt for some of it: each pass costs strength.", **values
    ),
    POLYMER: lambda _lot, values: say(
        "The {form} are of the run's own polymer, which is unusual.", **values
    ),
}
"""Key of a deviation → the sentence made of its lot and values."""

TITLES = {
    FORM: "a form that the stage usually does not take",
    UNDRIED: "melted without having been dried",
    MIXED_UP: "polymers worked on together",
    AGAIN: "melted three times or more",
    POLYMER: "side streams of the run's own polymer",
}
"""Key of a deviation → what it is called, without saying of which lot."""
