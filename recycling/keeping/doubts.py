"""What is doubtful about the weighings of a run, said right after they were recorded."""

from __future__ import annotations

from collections.abc import Iterable

from recycling.calc.balance.known_masses import Known, Scale, doubts
from recycling.keeping.lookups import Means
from recycling.models import Run
from recycling.queries.balance.known_masses import Figure, Instruments, figures_of
from recycling.records.lots.mass_entries import WeighingEntry


def doubts_in(run: Run, weighed: Iterable[WeighingEntry]) -> tuple[str, ...]:
    """Say which weighings on a named scale to look at; asks nothing where no scale was named.

    What was taken whole was not on the scale: nothing is said of it.
    """
    if not any(entry.scale for entry in weighed):
        return ()
    return tuple(
        f"{_named(one)}: {doubt.sentence}"
        for one in figures_of(run, Instruments(run.workshop_id))
        if not one.by_book
        for doubt in doubts(one.known)
    )


def doubts_among(
    weighed: Iterable[tuple[str, int, WeighingEntry]], means: Means
) -> tuple[str, ...]:
    """Say what `doubts_in` says of a run that was just recorded whole; asks nothing.

    Each weighing stands with the words for what was weighed, and the mass in mg.
    """
    listed = list(weighed)
    if not any(entry.scale for _, _, entry in listed):
        return ()
    return tuple(
        f"{words}: {doubt.sentence}"
        for words, mass_mg, entry in listed
        for doubt in doubts(_known(mass_mg, entry, means))
    )


def _known(mass_mg: int, entry: WeighingEntry, means: Means) -> Known:
    sample = means.samples.get(entry.sample)
    on = means.scales.get(entry.scale) or (sample.scale if sample else None)
    scale = Scale(on.name, on.accuracy_class, on.interval_mg, on.capacity_mg) if on else None
    return Known(abs(mass_mg), entry.how, entry.tare_mg or 0, scale)


def _named(one: Figure) -> str:
    return f"{one.row['code']} {one.row['form']}" if one.row["code"] else one.row["name"]
