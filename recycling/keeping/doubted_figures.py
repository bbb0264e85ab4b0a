"""What is doubtful about one typed mass: its scale, its run, its spool, and its own past."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from recycling.calc.balance.known_masses import Known, Scale, doubts
from recycling.calc.balance.typed_limits import (
    bottles_doubt,
    length_doubt,
    out_doubt,
    scale_doubt,
    spool_doubt,
    strand_mg,
)
from recycling.calc.balance.usual_figures import likely_slips, others, swapped
from recycling.keeping.lookups import Means
from recycling.models import Polymer
from recycling.queries.balance.usual_figures import FAR, UsualHere
from recycling.records.balance.doubts import EntryDoubt, Suggestion
from recycling.records.lots.mass_entries import SpoolEntry, WeighingEntry
from shared.said import say
from shared.units import show_mass, typed_mass

BOTTLES = "bottles"


@dataclass(frozen=True)
class Figure:
    """A mass as it was typed, mg: where it stands, what it is of, and how it became known.

    One with a `form` came out of a run, or in from outside, and is held against its past.
    """

    field: str
    words: str
    mass_mg: int
    weighing: WeighingEntry = WeighingEntry()
    lot_id: int | None = None
    form: str = ""
    polymer: str = ""
    source_id: int | None = None
    spool: SpoolEntry | None = None
    count: int | None = None

    @property
    def tare_mg(self) -> int:
        return self.weighing.tare_mg or 0

    @property
    def typed_mg(self) -> int:
        """What was typed: the gross mass where one was."""
        return self.mass_mg + self.tare_mg

    @property
    def place(self) -> str:
        """Where what was typed stands."""
        return f"{self.field}/weighing/gross_mg" if self.weighing.gross_mg else self._net

    @property
    def _net(self) -> str:
        return f"{self.field}/mass_mg"


@dataclass(frozen=True)
class Asked:
    """A doubt on its way to be kept, with how far it is off."""

    doubt: EntryDoubt
    far: float
    lot_id: int | None = None


def of_mass(one: Figure, usual: UsualHere, drawn_mg: int, left: int | None) -> list[Asked]:
    """Hold a mass against what scales and spools can be, what went in, and its own past."""
    found: list[Asked] = []
    weighed = one.weighing.how == "weighed"
    if weighed and usual.largest_mg and usual.step_mg:
        code = scale_doubt(one.typed_mg, usual.largest_mg, usual.step_mg)
        if code and not one.weighing.scale:
            found.append(_asked(code, one, most_mg=usual.largest_mg))
    if left is not None and one.form and out_doubt(drawn_mg - left, drawn_mg):
        most = left + one.mass_mg
        found.append(_asked("out-above-in", one, most_mg=most))
    if one.spool and spool_doubt(one.mass_mg):
        found.append(_asked("spool-heavy", one))
    if one.spool and one.spool.length_m:
        found += _of_length(one, one.spool)
    if one.count and one.form == BOTTLES and bottles_doubt(one.mass_mg, one.count):
        mean = show_mass(round(one.mass_mg / one.count / 100) * 100)
        found.append(_asked("bottles-odd", one, mean=mean))
    past = usual.past(one.form, one.source_id)
    of = float(drawn_mg) if past.shares else 1.0
    if one.form and past.logs and of:
        slips = likely_slips(one.typed_mg, past.logs, _swaps(one.typed_mg), of, one.tare_mg)
        if slips:
            said = say(
                "{what}: here {low} to {high} are usual; {mass} is far from that.",
                what=one.words,
                low=show_mass(_rounded(math.exp(min(past.logs)) * of)),
                high=show_mass(_rounded(math.exp(max(past.logs)) * of)),
                mass=show_mass(one.mass_mg),
            )
            values = [each.value for each in slips]
            far = math.log(one.mass_mg / of) - median(past.logs)
            found.append(_made(FAR, one, said, values, far))
    return found


_SAID: Mapping[str, Callable[[str, str, str], str]] = {
    "above-scales": lambda what, mass, _: say(
        "{what}: {mass} is more than the largest scale here can carry.", what=what, mass=mass
    ),
    "below-scales": lambda what, mass, _: say(
        "{what}: {mass} is less than the finest scale here can show.", what=what, mass=mass
    ),
    "out-above-in": lambda what, mass, _: say(
        "{what}: with {mass} more comes out than went in.", what=what, mass=mass
    ),
    "spool-heavy": lambda what, mass, _: say(
        "{what}: {mass} is more filament than the largest usual spool holds.", what=what, mass=mass
    ),
    "bottles-odd": lambda what, _, mean: say(
        "{what}: that is {mean} for each bottle; count and mass do not go together.",
        what=what,
        mean=mean,
    ),
}


def _asked(code: str, one: Figure, most_mg: float | None = None, mean: str = "") -> Asked:
    """Ask about a figure that is beyond a limit; what fits below it is proposed."""
    mass_mg = one.typed_mg if code.endswith("scales") else one.mass_mg
    said = _SAID[code](one.words, show_mass(mass_mg), mean)
    larger = code == "below-scales"
    fitting = [
        other.value
        for other in sorted(others(one.typed_mg), key=lambda other: -other.prior)
        if (other.value > one.typed_mg) == larger and other.value > one.tare_mg
        if most_mg is None or other.value - one.tare_mg <= most_mg
    ]
    far = math.log(one.mass_mg / most_mg) if most_mg and most_mg > 0 else math.inf
    return _made(code, one, said, [] if mean else fitting, far)


def _made(
    code: str, one: Figure, said: str, values: Sequence[float] = (), far: float = 1.0
) -> Asked:
    offered = [Suggestion(typed_mass(round(value))) for value in values[:2]]
    doubt = EntryDoubt(f"{code}:{one.place}:{one.typed_mg}", said, one.place, tuple(offered))
    return Asked(doubt, abs(far), one.lot_id)


def _of_length(one: Figure, spool: SpoolEntry) -> list[Asked]:
    lots = Polymer.objects.filter(workshop__lots__pk=one.lot_id, code=one.polymer)
    density = lots.values_list("density_g_cm3", flat=True).first()
    if not density or not spool.length_m:
        return []
    by_length = strand_mg(spool.diameter_mm, spool.length_m, density)
    if not length_doubt(one.mass_mg, by_length):
        return []
    said = say(
        "{what}: {length:g} m of {diameter:g} mm weigh about {expected}, not {mass}.",
        what=one.words,
        length=spool.length_m,
        diameter=spool.diameter_mm,
        expected=show_mass(_rounded(by_length)),
        mass=show_mass(one.mass_mg),
    )
    return [_made("length-differs", one, said)]


def of_scale(one: Figure, means: Means) -> list[Asked]:
    """Say what is doubtful about a reading on the scale that was named for it."""
    sample = means.samples.get(one.weighing.sample)
    on = means.scales.get(one.weighing.scale) or (sample.scale if sample else None)
    if on is None:
        return []
    scale = Scale(on.name, on.accuracy_class, on.interval_mg, on.capacity_mg)
    known = Known(abs(one.mass_mg), one.weighing.how, one.tare_mg, scale)
    return [_made(doubt.code, one, f"{one.words}: {doubt.sentence}", []) for doubt in doubts(known)]


def _swaps(typed_mg: int) -> list[float]:
    digits = str(typed_mg).rstrip("0")
    zeros = 10 ** (len(str(typed_mg)) - len(digits))
    return [float(int(text) * zeros) for text in swapped(digits)]


def _rounded(mass_mg: float) -> int:
    """Round to two digits."""
    step = 10 ** max(math.floor(math.log10(max(mass_mg, 1))) - 1, 0)
    return round(mass_mg / step) * step
