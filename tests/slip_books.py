"""Invented books of weighings with usual losses, in which slips can be planted; all from a seed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from random import Random
from typing import NamedTuple

from recycling.calc.balance.typed_limits import out_doubt
from recycling.calc.balance.usual_figures import likely_slips, past_of, swapped

KG = 1_000_000
STEPS = ((3 * KG, 500), (6 * KG, 1_000), (15 * KG, 5_000), (1000 * KG, 20_000))
SHARES = {
    "sort": (("clean", 0.86, 0.04), ("caps", 0.07, 0.2), ("rings", 0.015, 0.25)),
    "shred": (("flake", 0.94, 0.01), ("fines", 0.03, 0.5), ("oversize", 0.02, 0.6)),
    "dry": (("dried", 0.985, 0.005),),
}
TARES = (0, 0, 0, 85_000, 430_000, 730_000)


class Weighed(NamedTuple):
    """What came out: form, gross and tare in mg."""

    form: str
    gross_mg: int
    tare_mg: int


class Made(NamedTuple):
    """A run: its stage, what went in, mg, and what came out in the order typed."""

    stage: str
    in_mg: int
    out: tuple[Weighed, ...]


def book(seed: int, runs: int = 80) -> Iterator[Made]:
    """Make up the runs of one workshop: its own sizes of batches, spools, losses and scatter."""
    rng = Random(seed)
    batch, spool = rng.uniform(2, 6) * KG, rng.choice((0.5, 0.75, 1.0)) * KG
    loss, own = rng.uniform(0.005, 0.03), rng.uniform(0.7, 1.4)
    for _ in range(runs):
        stage = rng.choice(("collect", "sort", "shred", "dry", "extrude", "extrude"))
        if stage == "collect":
            yield Made(stage, 0, (_weighed(rng, "bottles", batch * rng.lognormvariate(0, 0.6)),))
            continue
        in_mg = _read(batch * rng.lognormvariate(0, 0.4))
        left = in_mg * (1 - loss * rng.gammavariate(4, 0.25))
        if stage == "extrude":
            yield Made(stage, in_mg, tuple(_extruded(rng, left, spool)))
            continue
        weighed, named = [], SHARES[stage]
        side = [in_mg * share * own * rng.lognormvariate(0, s) for _form, share, s in named[1:]]
        for (form, *_), mass in zip(named, [left - sum(side), *side], strict=True):
            weighed.append(_weighed(rng, form, mass))
        yield Made(stage, in_mg, tuple(weighed))


def _extruded(rng: Random, left: float, spool: float) -> Iterator[Weighed]:
    waste = min(rng.lognormvariate(0, 0.5) * 60_000, left / 10)
    yield _weighed(rng, "startup waste", waste)
    left -= waste
    while left > 0.15 * spool:
        wound = min(spool * rng.normalvariate(1.0, 0.012), left)
        yield _weighed(rng, "spool", wound)
        left -= wound


def _weighed(rng: Random, form: str, mass: float) -> Weighed:
    tare = rng.choice(TARES)
    return Weighed(form, max(_read(mass + tare), tare + 500), tare)


def _read(mass: float) -> int:
    step = next(step for most, step in STEPS if mass <= most)
    return round(mass / step) * step


class Tried(NamedTuple):
    """Runs, honest runs in which something was asked, figures made ten times or a tenth, found."""

    runs: int
    asked: int
    planted: int
    found: int

    def __add__(self, other: Tried) -> Tried:  # type: ignore[override]
        return Tried(*(one + more for one, more in zip(self, other, strict=True)))


def tried(runs: Iterator[Made], least: int = 8) -> Tried:
    """Go through a book in order: ask of each figure as it is, and as ten times and a tenth."""
    past: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    count = asked = planted = found = 0
    for run in runs:
        before, any_asked = 0, False
        for one in run.out:
            known = past[run.stage, one.form]
            any_asked |= is_asked(run, one, before, known)
            if len(known) >= least:
                slips = [one._replace(gross_mg=round(one.gross_mg * by)) for by in (10, 0.1)]
                found += sum(is_asked(run, slip, before, known) for slip in slips)
                planted += len(slips)
            before += one.gross_mg - one.tare_mg
        count, asked = count + 1, asked + any_asked
        for one in run.out:
            past[run.stage, one.form].append((one.gross_mg - one.tare_mg, run.in_mg))
    return Tried(count, asked, planted, found)


def is_asked(run: Made, one: Weighed, before: int, known: list[tuple[float, float]]) -> bool:
    """Whether a figure is refused or asked about; `before` is what came out before it, mg."""
    net = one.gross_mg - one.tare_mg
    if net <= 0 or (run.in_mg and out_doubt(before + net, run.in_mg)):
        return True
    if not known:
        return False
    logs, shares = past_of(known)
    digits = str(one.gross_mg).rstrip("0")
    zeros = 10 ** (len(str(one.gross_mg)) - len(digits))
    swaps = [float(int(text) * zeros) for text in swapped(digits)]
    return bool(likely_slips(one.gross_mg, logs, swaps, run.in_mg if shares else 1.0, one.tare_mg))
