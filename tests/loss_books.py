"""Tell a book of weighings with usual losses through the services, run after run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from recycling.records.lots.mass_entries import (
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
    WeighingEntry,
)
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_record import run_record
from shared.errors import Refused
from tests.factories import (
    START,
    ContainerFactory,
    G,
    MachineFactory,
    OriginFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
)

FORMS = {
    "bottles": "bottles",
    "purge_compound": "purge compound",
    "clean": "clean bottles",
    "rejects": "reject",
    "dried": "dried flake",
    "spool": "filament",
    "startup_waste": "start-up scrap",
    "purge_waste": "changeover scrap",
}
POLYMERS = {"caps": "HDPE", "rings": "HDPE", "labels": "PP"}
LOSSES = {"dust": "dust", "water": "water", "vapour": "volatiles"}
MACHINES = {"shred": "shredder", "dry": "dryer", "extrude": "extruder"}
SCALES = {1: 6_000, 5: 30_000, 20: 150_000}
"""Step → capacity, g."""


@dataclass
class Told:
    """A workshop with what was told of a book, and where its lots and runs are."""

    actor: Any
    lots: dict[str, str] = field(default_factory=dict)
    runs: dict[str, str] = field(default_factory=dict)
    refused: dict[str, Refused] = field(default_factory=dict)
    left: dict[str, int] = field(default_factory=dict)

    def tell(self, book: dict[str, Any]) -> Iterator[tuple[int, str]]:
        """Record each run; yield its place and its code. What is refused is kept, and left out."""
        for at, run in enumerate(book["runs"]):
            end = START + timedelta(hours=6 * (at + 1))
            try:
                code = self._tell(run, end)
            except Refused as refused:
                self.refused[run["key"]] = refused
                continue
            self.runs[run["key"]] = code
            for figure in run["figures"]:
                self._count(figure)
            yield at, code

    def _tell(self, run: dict[str, Any], end: Any) -> str:
        if run["stage"] in ("receive", "collect"):
            return self._bring(run, end)
        taken = [one for one in run["figures"] if one[1] == "in"]
        given = [one for one in run["figures"] if one[1] == "out"]
        kept = [one for one in given if one[3] not in (*LOSSES, "heel")]
        heels = [one for one in given if one[3] == "heel"]
        entry = RunEntry(
            run["stage"],
            end - timedelta(hours=2),
            end,
            machine=run["machine"] if run["stage"] in MACHINES else "",
            inputs=tuple(self._draw(one) for one in taken),
            outputs=tuple(_output(one) for one in kept),
            heel=HeelEntry(heels[0][4] - heels[0][5]) if heels else None,
            losses=tuple(
                LossEntry(LOSSES[one[3]], one[4] - one[5], weighing=_weighing(one))
                for one in given
                if one[3] in LOSSES
            ),
        )
        done = run_record(self.actor, entry)
        for figure, lot in zip([*kept, *heels], done.lots, strict=True):
            self.lots[figure[2]] = lot.code
        return done.code

    def _bring(self, run: dict[str, Any], end: Any) -> str:
        (figure,) = run["figures"]
        net_mg, form = figure[4] - figure[5], FORMS[figure[3]]
        bag = BagEntry(net_mg, form, weighing=_weighing(figure))
        if run["stage"] == "receive":
            bag = BagEntry(net_mg, form, polymer="purge", weighing=_weighing(figure))
            done = OriginFactory(actor=self.actor, happened_at=end, supplier="mill", bags=(bag,))
        else:
            done = OriginFactory(
                actor=self.actor,
                kind="collection",
                happened_at=end,
                source=run["machine"],
                bags=(bag,),
            )
        self.lots[figure[2]] = done.lots[0].code
        return done.run

    def _draw(self, figure: list[Any]) -> DrawEntry:
        lot, net_mg = self.lots[figure[2]], figure[4] - figure[5]
        over_mg = net_mg - self.left[figure[2]]
        if figure[9] or 0 <= over_mg < 0.05 * net_mg:
            return DrawEntry(lot, all=True)
        return DrawEntry(lot, net_mg, weighing=_weighing(figure))

    def _count(self, figure: list[Any]) -> None:
        """Keep what is left of a lot, so that a little more than that is taken whole."""
        lot, net_mg = figure[2], figure[4] - figure[5]
        if figure[1] == "out":
            self.left[lot] = net_mg
        else:
            self.left[lot] = max(0 if figure[9] else self.left[lot] - net_mg, 0)


def _weighing(figure: list[Any]) -> WeighingEntry:
    gross_mg, tare_mg, step_mg = figure[4], figure[5], figure[7]
    return WeighingEntry(gross_mg=gross_mg, tare_mg=tare_mg or None, scale=f"{step_mg // G} g")


def _output(figure: list[Any]) -> OutputEntry:
    form = FORMS.get(figure[3], figure[3])
    return OutputEntry(
        form,
        figure[4] - figure[5],
        polymer=POLYMERS.get(figure[3], ""),
        spool=SpoolEntry() if form == "filament" else None,
        weighing=_weighing(figure),
    )


def workshop_for(book: dict[str, Any]) -> Told:
    """Set up the workshop in which a book was kept."""
    actor = WorkshopFactory()
    for name, tare_mg in book["boxes"].items():
        ContainerFactory(actor=actor, name=name, tare_mg=tare_mg)
    for step, capacity in SCALES.items():
        ScaleFactory(actor=actor, name=f"{step} g", interval_mg=step * G, capacity_mg=capacity * G)
    made = {(run["stage"], run["machine"]) for run in book["runs"]}
    for stage, machine in sorted(made):
        if stage in MACHINES:
            MachineFactory(actor=actor, name=machine, kind=MACHINES[stage])
        elif stage == "collect":
            SourceFactory(actor=actor, name=machine)
    return Told(actor)
