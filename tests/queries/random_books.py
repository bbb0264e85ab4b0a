"""Books of random work through the services, over months, with slips and second thoughts."""

from __future__ import annotations

import random
from typing import Any

from django.core.exceptions import ObjectDoesNotExist

from recycling.models import Origin, Programme, Source, Workshop
from recycling.records.actors import Actor
from shared.errors import Refused
from tests.factories import ProgrammeFactory, SourceFactory, WorkshopFactory
from tests.histories import Told

HOURS = 24 * 120
"""Told histories begin on 8 January; four months on, all six zones have changed their clocks."""
ZONES = (
    "Europe/Lisbon",
    "America/New_York",
    "America/Santiago",
    "Australia/Lord_Howe",
    "Asia/Kolkata",
    "Pacific/Chatham",
)
"""North, south, a change at midnight, one by half an hour, one without, one of 45 minutes."""


class RandomBook:
    """Tells a history line by line; what the services refuse is left out."""

    def __init__(self, seed: int, zone: str, purchases: bool, floor_ppm: int, deeds: int = 110):
        self.random = random.Random(seed)
        actor = WorkshopFactory(zone=zone)
        Workshop.objects.filter(pk=actor.workshop_id).update(trace_floor_ppm=floor_ppm)
        self.told, self.purchases = Told(actor), purchases
        self.lots: dict[str, str] = {}
        self.runs: list[str] = []
        self.open: list[str] = []
        self.number = 0
        for step in range(deeds):
            self._deed(HOURS * step // deeds)
        _spread_over_givers(actor, self.random)

    @property
    def actor(self) -> Actor:
        """Who acts in it."""
        return self.told.actor

    def _deed(self, hour: int) -> None:
        deeds: list[Any] = [self._collect, *[self._work] * 7, self._leave, self._count]
        deeds += [self._correct, self._void, self._open_run, self._feed_again, self._feed_again]
        line = self.random.choice(deeds if self.lots else [self._collect])()
        lines = [one for one in line.split("\n") if one]
        hours = sorted(hour + self.random.randrange(20) for _ in lines)
        for one, at in zip(lines, hours, strict=True):
            try:
                self.told.tell(f"{one} @{at}")
            except (Refused, ObjectDoesNotExist, LookupError):
                continue
            self._keep(one)

    def _keep(self, line: str) -> None:
        name = next((w.rstrip(":") for w in line.split() if w[0] in "CPR" and w[1:2].isdigit()), "")
        result = self.told.results.get(name)
        for key in [key for key in self.told.codes if key.startswith(f"{name}.")]:
            if result is not None and key not in self.lots and key[-1].isdigit():
                self.lots[key] = self.told.lot(key).form
        if name.startswith("R") and name not in self.runs:
            self.runs.append(name)

    def _next(self, kind: str) -> str:
        self.number += 1
        return f"{kind}{self.number}"

    def _grams(self, most: int = 6_000_000) -> str:
        return f"{self.random.randrange(most // 3, most)}mg"

    def _collect(self) -> str:
        if self.purchases and self.random.random() < 0.25:
            return f"{self._next('P')}: pellets PET {self._grams()}"
        return f"{self._next('C')}: bottles PET {self._grams()}, {self._grams()}"

    def _lot(self, *forms: str) -> tuple[str, int]:
        fitting = [name for name, form in self.lots.items() if form in forms]
        name = self.random.choice(fitting)
        return name, self.told.on_hand(name)

    def _work(self) -> str:
        stage = self.random.choice(["sort", "shred", "dry", "extrude", "extrude", "blend"])
        forms = {
            "sort": ("bottles",),
            "shred": ("clean bottles", "oversize"),
            "dry": ("flake",),
            "extrude": ("dried flake", "pellets"),
            "blend": ("flake", "dried flake"),
        }[stage]
        try:
            drawn = dict(self._lot(*forms) for _ in range(1 + (stage in ("extrude", "blend"))))
        except IndexError:
            return ""
        part = self.random.choice([1.0, 0.6])
        taken = {name: int(mass * part) for name, mass in drawn.items() if int(mass * part)}
        fed = sum(taken.values())
        line = ", ".join(f"{name} {mass}mg" for name, mass in taken.items())
        return f"{self._next('R')} {stage} {line} -> {self._given(stage, fed)}"

    def _given(self, stage: str, fed: int) -> str:
        cut = [self.random.random() for _ in range(4)]
        some = [max(int(fed * one * 0.05), 1) for one in cut]
        main = max(fed - sum(some), 1)
        return {
            "sort": f"clean bottles {main}mg, caps HDPE {some[0]}mg, reject {some[1]}mg,"
            f" ~residue {some[2]}mg",
            "shred": f"flake {main}mg, oversize {some[0]}mg, ~dust {some[1]}mg",
            "dry": f"dried flake {main + some[0]}mg, ~water {some[1]}mg",
            "extrude": f"filament {main // 2}mg spool, filament {main - main // 2}mg spool,"
            f" start-up scrap {some[0]}mg, heel {max(some[1], 1)}mg, ~volatiles {some[2]}mg",
            "blend": f"flake {fed}mg",
        }[stage]

    def _feed_again(self) -> str:
        """Shred scrap, mix it with flake, dry and melt it, in two runs with what is left over."""
        try:
            (scrap, mass), (flake, other) = self._lot("start-up scrap"), self._lot("flake")
        except IndexError:
            return ""
        shred, blend, dry, melt = (self._next("R") for _ in range(4))
        other = max(other // 3, 1)
        mixed = mass + other
        return "\n".join(
            [
                f"{shred} shred {scrap} {mass}mg -> flake {mass}mg",
                f"{blend} blend {shred}.1 {mass}mg, {flake} {other}mg -> flake {mixed}mg",
                f"{dry} dry {blend}.1 {mixed}mg -> dried flake {mixed}mg",
                f"{melt} extrude {dry}.1 {mixed // 3}mg -> {self._given('extrude', mixed // 3)}",
            ]
        )

    def _leave(self) -> str:
        stage, forms = self.random.choice(
            [("dispatch", ("filament", "caps")), ("discard", ("reject", "start-up scrap"))]
        )
        try:
            name, _ = self._lot(*forms)
        except IndexError:
            return ""
        return f"{self._next('R')} {stage} {name} {self.random.choice(['all', '111111mg'])}"

    def _count(self) -> str:
        name = self.random.choice(list(self.lots))
        mass = max(self.told.on_hand(name) + self.random.randrange(-9999, 9999), 0)
        return f"count {self._next('R')}: {name} {mass}mg"

    def _correct(self) -> str:
        name = self.random.choice(list(self.lots))
        run = name.split(".")[0]
        run = run if run.startswith("R") else f"{run}.run"
        mass = self.told.lot(name).made_mg + self.random.randrange(-77_777, 77_777)
        return f"correct {run} gave {name} {max(mass, 1)}mg"

    def _void(self) -> str:
        return f"void {self.random.choice(self.runs)}" if self.runs else ""

    def _open_run(self) -> str:
        try:
            name, mass = self._lot("clean bottles")
        except IndexError:
            return ""
        run = self._next("R")
        lines = [f"open {run} shred {name} {max(mass // 2, 1)}mg", f"{run} gives flake 99999mg"]
        if self.random.random() < 0.6:
            lines += [f"{run} draws {name} {max(mass // 4, 1)}mg", f"close {run} -> flake 77777mg"]
        return "\n".join(lines)


def _spread_over_givers(actor: Actor, dice: random.Random) -> None:
    """Give collections to few sources and programmes, and some to none."""
    for number in range(3):
        SourceFactory(actor=actor, name=f"Giver {number}", may_be_named=number == 0)
        ProgrammeFactory(actor=actor, name=f"Aim {number}", target_mg=10_000_000)
    sources = list(Source.objects.filter(workshop_id=actor.workshop_id, name__startswith="Giver"))
    aims = [*Programme.objects.filter(workshop_id=actor.workshop_id), None]
    for origin in Origin.objects.filter(workshop_id=actor.workshop_id, kind="collection"):
        origin.source, origin.programme = dice.choice(sources), dice.choice(aims)
        origin.save()
