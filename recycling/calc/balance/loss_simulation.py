"""Invented books of weighings with ordinary losses, and one slip or loss planted in each.

A workshop's machines each lose some grams and a share of what goes in, with gamma scatter; scales
show steps by load; containers are tared. Everything is invented, from a seed; nothing here is
fitted to any real workshop, nor used by the judging itself.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from typing import Any

KINDS = (
    "honest",
    "tare forgotten",
    "tare twice",
    "digits swapped",
    "factor 10",
    "unit mistaken",
    "entered twice",
    "not entered",
    "weigh-in",
    "real loss",
)
BOXES_MG = {"sack": 85_000, "bucket": 430_000, "tub": 730_000, "crate": 1_250_000}
LB = 0.453_592_37
USUAL = {"sort": 0.02, "shred": 0.01, "dry": 0.005, "extrude": 0.015}
LEAST_SCATTER = 4.0
"""A planted slip is at least this many times the scatter of such a run."""

PARTS = {
    "sort": (
        ("clean", 0.80),
        ("caps", 0.07),
        ("rings", 0.012),
        ("labels", 0.03),
        ("rejects", 0.06),
    ),
    "shred": (("flake", 0.88), ("fines", 0.025), ("oversize", 0.07), ("dust", 0.003)),
    "dry": (("dried", 0.985), ("water", 0.01)),
}
LOSSES = ("dust", "water", "vapour")
BORDERS = ("collect", "receive")

Figure = list[Any]
"""[id, side, lot, form, gross mg, tare mg, box, step mg, typed, whole]."""


@dataclass
class Lot:
    """A lot: its key, what it is, and what is truly there and in the book, mg."""

    key: str
    form: str
    true_mg: float
    book_mg: int
    mistyped: bool = False


class Workshop:
    """One invented workshop, which works run after run."""

    def __init__(self, seed: int, kind: str = "honest", runs: int = 45) -> None:
        self.chance = chance = random.Random(seed * 1_000 + KINDS.index(kind))
        names = chance.sample(sorted(BOXES_MG), chance.choice((2, 3)))
        self.boxes = {name: BOXES_MG[name] for name in names}
        self.size_mg = 3e6 * math.exp(chance.gauss(0, 1.0))
        self.spool_mg = self.size_mg * chance.uniform(0.015, 0.06)
        machines = {"sort": 1, "shred": 1, "dry": 1, "extrude": chance.choice((1, 2))}
        self.machines = {s: [f"{s} {n + 1}" for n in range(m)] for s, m in machines.items()}
        self.loses = {
            name: (
                chance.uniform(0, 8_000) * min(self.size_mg / 3e6, 2.0),
                USUAL[stage] * math.exp(chance.gauss(0, 0.6)),
                chance.uniform(0.3, 0.65),
            )
            for stage, listed in self.machines.items()
            for name in listed
        }
        self.runs: list[dict[str, Any]] = []
        self.lots: list[Lot] = []
        self.made = 0
        self.kind, self.after = kind, chance.randint(runs // 3, runs - 4)
        self.truth: dict[str, Any] = {"kind": kind}
        self.wanted = runs

    def book(self) -> dict[str, Any]:
        """Work until there are enough runs, and hand over the book."""
        self._bring("receive", "purge_compound", self.size_mg)
        while len(self.runs) < self.wanted:
            self._work()
        return {"boxes": self.boxes, "runs": self.runs, "truth": self.truth}

    def _work(self) -> None:
        ready = {
            "sort": self._have("bottles"),
            "shred": self._have("clean"),
            "dry": self._have("flake"),
            "extrude": self._have("dried"),
        }
        able = [stage for stage, lots in ready.items() if lots]
        weights = [{"sort": 2, "shred": 2, "dry": 2, "extrude": 4}[stage] for stage in able]
        if not able or self.chance.random() < 0.12:
            bags = self.size_mg * math.exp(self.chance.gauss(0.5, 0.7))
            self._bring("collect", "bottles", bags, f"place{self.chance.randint(0, 3)}")
            return
        stage = self.chance.choices(able, weights)[0]
        lots = ready[stage]
        most = 1 if stage == "sort" else self.chance.choice((1, 2, 2, 3))
        self._run(stage, self.chance.sample(lots, min(most, len(lots))))

    def _have(self, form: str) -> list[Lot]:
        return [one for one in self.lots if one.form == form and one.book_mg > 0.02 * self.size_mg]

    def _weigh(self, true_mg: float) -> tuple[int, int, str, int]:
        """Weigh something, in a box perhaps: gross, tare, box, step of the scale."""
        fits = [name for name in self.boxes if true_mg > 0.25 * self.boxes[name]]
        box = self.chance.choice(fits) if fits and self.chance.random() < 0.5 else ""
        tare_mg = self.boxes.get(box, 0)
        load_mg = true_mg + tare_mg
        step_mg = 1_000 if load_mg < 6e6 else 5_000 if load_mg < 30e6 else 20_000
        shown = round((load_mg + self.chance.gauss(0, 0.4 * step_mg)) / step_mg) * step_mg
        return max(shown, tare_mg + step_mg), tare_mg, box, step_mg

    def _figure(self, side: str, lot: str, form: str, true_mg: float) -> Figure:
        gross_mg, tare_mg, box, step_mg = self._weigh(true_mg)
        return [None, side, lot, form, gross_mg, tare_mg, box, step_mg, _kg(gross_mg), False]

    def _lot(self, form: str, true_mg: float) -> tuple[Lot, Figure]:
        self.made += 1
        lot = Lot(f"L{self.made}", form, true_mg, 0)
        figure = self._figure("out", lot.key, form, true_mg)
        return lot, figure

    def _bring(self, stage: str, form: str, true_mg: float, place: str = "") -> None:
        lot, figure = self._lot(form, true_mg)
        if stage == "collect" and self.kind == "weigh-in" and self._due():
            self._mistype_weigh_in(figure, lot)
        self._close(stage, place, [figure], [(lot, figure)])

    def _due(self) -> bool:
        return "run" not in self.truth and len(self.runs) >= self.after

    def _mistype_weigh_in(self, figure: Figure, lot: Lot) -> None:
        kind = self.chance.choice(("factor 10", "digits swapped", "unit mistaken"))
        loss = self.loses[self.machines["sort"][0]]
        least = LEAST_SCATTER * _scatter(loss, lot.true_mg)
        changed = self._mistyped(kind, figure, least)
        if changed is not None:
            lot.mistyped = True
            self._plant(figure, changed)

    def _plant(self, figure: Figure, changed: int) -> None:
        self.truth |= {"run": len(self.runs), "delta_mg": changed - figure[4], "_figure": figure}
        figure[4], figure[8] = changed, _kg(changed)

    def _draw(self, lot: Lot) -> tuple[Figure, float, bool]:
        """Take a lot, whole by the book or weighed."""
        planted = lot.mistyped
        all_of_it = planted or lot.form in ("bottles", "heel") or self.chance.random() < 0.35
        if all_of_it and (planted or self.chance.random() < 0.6):
            true_mg = lot.true_mg
            figure = self._figure("in", lot.key, lot.form, true_mg)
            figure[4:8] = [lot.book_mg, 0, "", figure[7]]
            figure[8:] = [_kg(lot.book_mg), True]
            return figure, true_mg, True
        share = 1.0 if all_of_it else self.chance.uniform(0.2, 0.8)
        true_mg = min(lot.true_mg, lot.book_mg) * share * 0.999
        return self._figure("in", lot.key, lot.form, true_mg), true_mg, False

    def _run(self, stage: str, lots: list[Lot]) -> None:
        machine = self.chance.choice(self.machines[stage])
        figures: list[Figure] = []
        went_in = 0.0
        taken: list[tuple[Lot, Figure, float]] = []
        drawn = [*lots]
        if stage == "extrude":
            compound = next(one for one in self.lots if one.form == "purge_compound")
            heels = [one for one in self.lots if one.form == "heel" and one.book_mg > 0]
            drawn += [compound, *heels[-1:]]
        for lot in drawn:
            figure, true_mg, _ = self._draw(lot)
            if lot.form == "purge_compound":
                true_mg = min(went_in * self.chance.uniform(0.01, 0.1), lot.true_mg * 0.5)
                figure = self._figure("in", lot.key, lot.form, true_mg)
            figures.append(figure)
            taken.append((lot, figure, true_mg))
            went_in += true_mg
        fixed, share, scatter = self.loses[machine]
        mean = fixed + share * went_in
        lost = mean * self.chance.gammavariate(1 / scatter**2, scatter**2)
        lost = min(lost, 0.5 * went_in)
        sd = _scatter(self.loses[machine], went_in)
        extra = 0.0
        if self.kind == "real loss" and self._due():
            extra = sd * self.chance.uniform(LEAST_SCATTER, 4 * LEAST_SCATTER)
            if extra < 0.4 * went_in:
                self.truth |= {"run": len(self.runs), "delta_mg": -round(extra)}
            else:
                extra = 0.0
        made = self._outputs(stage, went_in - lost - extra)
        figures += [figure for _, figure in made]
        if self._due() and self.kind not in ("honest", "real loss", "weigh-in"):
            self._slip(figures, made, LEAST_SCATTER * sd)
        self._take(taken)
        self._close(stage, machine, figures, made)

    def _outputs(self, stage: str, true_mg: float) -> list[tuple[Lot | None, Figure]]:
        parts: list[tuple[str, float]] = []
        if stage == "extrude":
            heel = true_mg * self.chance.uniform(0.02, 0.06)
            start = true_mg * self.chance.uniform(0.015, 0.05)
            purge = true_mg * self.chance.uniform(0.02, 0.1)
            vapour = true_mg * 0.001 * self.chance.uniform(0.5, 1.5)
            left = true_mg - heel - start - purge - vapour
            full = self.spool_mg
            while left > 1.3 * full and len(parts) < 7:
                piece = full * self.chance.gauss(1, 0.01)
                parts.append(("spool", piece))
                left -= piece
            if left > 0:
                parts.append(("spool", left))
            parts += [("startup_waste", start), ("purge_waste", purge), ("heel", heel)]
            parts.append(("vapour", vapour))
        else:
            shares = [
                (form, share * math.exp(self.chance.gauss(0, 0.3)))
                for form, share in PARTS[stage][1:]
            ]
            rest = 1 - sum(share for _, share in shares)
            parts = [(PARTS[stage][0][0], true_mg * rest)]
            parts += [(form, true_mg * share) for form, share in shares]
        made: list[tuple[Lot | None, Figure]] = []
        for form, mass_mg in parts:
            if form in LOSSES:
                made.append((None, self._figure("out", "", form, mass_mg)))
            else:
                made.append(self._lot(form, mass_mg))
        return made

    def _mistyped(self, kind: str, figure: Figure, least_mg: float) -> int | None:
        """Say what would be typed for a figure, where that differs enough to be seen."""
        gross_mg, tare_mg = figure[4], figure[5]
        wrong: list[float] = []
        if kind == "tare forgotten" and tare_mg:
            wrong = [gross_mg]
        elif kind == "digits swapped":
            text = figure[8]
            for at in range(len(text) - 1):
                pair = text[at : at + 2]
                if pair.isdigit() and pair[0] != pair[1]:
                    wrong.append(float(text[:at] + pair[::-1] + text[at + 2 :]) * 1e6)
                elif at + 2 < len(text) and text[at + 1] == "." and text[at] != text[at + 2]:
                    turned = f"{text[:at]}{text[at + 2]}.{text[at]}{text[at + 3 :]}"
                    wrong.append(float(turned) * 1e6)
        elif kind == "factor 10":
            wrong = [gross_mg * 10, gross_mg / 10]
        elif kind == "unit mistaken":
            wrong = [gross_mg / LB]
        changed = [round(mass / 1_000) * 1_000 for mass in wrong]
        fit = [mass for mass in changed if abs(mass - gross_mg) > least_mg and mass > tare_mg]
        return self.chance.choice(fit) if fit else None

    def _slip(
        self, figures: list[Figure], made: list[tuple[Lot | None, Figure]], least_mg: float
    ) -> None:
        kind = self.kind
        for figure in self.chance.sample(figures, len(figures)):
            if figure[9] or figure[3] == "purge_compound" and kind == "entered twice":
                continue
            net = figure[4] - figure[5]
            if kind == "tare forgotten" and figure[5] > least_mg:
                self.truth |= {"box": figure[6]}
                self._plant(figure, figure[4])
                self.truth["delta_mg"] = figure[5]
                figure[5:7] = [0, ""]
            elif kind == "tare twice" and figure[5] > least_mg and net > figure[5] * 1.05:
                self.truth |= {"box": figure[6]}
                self._plant(figure, figure[4] - figure[5])
            elif kind == "entered twice" and net > least_mg and figure[1] == "out":
                copy = [*figure]
                at = figures.index(figure)
                lot = next((lot for lot, one in made if one is figure), None)
                if lot is not None:
                    self.made += 1
                    twin = Lot(f"L{self.made}", lot.form, 0.0, 0)
                    copy[2] = twin.key
                    made.append((twin, copy))
                figures.insert(at + 1, copy)
                self.truth |= {"run": len(self.runs), "delta_mg": net, "_figure": copy}
            elif kind == "not entered" and net > least_mg and figure[1] == "out":
                figures.remove(figure)
                made[:] = [pair for pair in made if pair[1] is not figure]
                self.truth |= {"run": len(self.runs), "delta_mg": net, "form": figure[3]}
            else:
                changed = self._mistyped(kind, figure, least_mg)
                if kind in ("tare forgotten", "tare twice") or changed is None:
                    continue
                self._plant(figure, changed)
            return

    def _take(self, taken: list[tuple[Lot, Figure, float]]) -> None:
        for lot, figure, true_mg in taken:
            lot.true_mg = max(lot.true_mg - true_mg, 0.0)
            lot.book_mg -= lot.book_mg if figure[9] else figure[4] - figure[5]
            if lot.mistyped and "seen_run" not in self.truth:
                self.truth["seen_run"] = len(self.runs)

    def _close(
        self,
        stage: str,
        machine: str,
        figures: list[Figure],
        made: list[tuple[Lot | None, Figure]] | list[tuple[Lot, Figure]],
    ) -> None:
        at = len(self.runs)
        for place, figure in enumerate(figures):
            figure[0] = f"{at}.{place}"
        planted = self.truth.pop("_figure", None)
        if planted is not None:
            self.truth["figure"] = planted[0]
        if self.truth.get("run") == at and self.kind != "weigh-in":
            self.truth["seen_run"] = at
        for lot, figure in made:
            if lot is not None:
                lot.book_mg = figure[4] - figure[5]
                self.lots.append(lot)
        key = f"R{at}"
        self.runs.append({"key": key, "stage": stage, "machine": machine, "figures": figures})


def _kg(mass_mg: int) -> str:
    return f"{mass_mg / 1e6:.3f}"


def _scatter(loss: tuple[float, float, float], went_in_mg: float) -> float:
    fixed, share, scatter = loss
    return math.hypot(scatter * (fixed + share * went_in_mg), 0.001 * went_in_mg, 2_000)


def invented(seed: int, kind: str = "honest", runs: int = 45) -> dict[str, Any]:
    """Make a book by its seed; the truth has no run where nothing could be planted."""
    return Workshop(seed, kind, runs).book()
