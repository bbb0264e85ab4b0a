"""Books for the fates of grams: one in the form of the entries file, read without a database."""

from __future__ import annotations

import random
from collections.abc import Mapping
from datetime import datetime

from recycling.calc.reports.fate_records import Kind, LotFate, Moved, RunFate, State, Work

WORK = {"sort": Work.SORTS, "extrude": Work.MELTS, "dispatch": Work.DISPATCHES}
OUT_OF_MELTS = ("filament", "start-up scrap", "offcuts", "heel")


def month_of(moment: str) -> int:
    return datetime.fromisoformat(moment).month


def states_at(tells: list[Mapping], ends: list[str]) -> dict[str, tuple[State, ...]]:
    """Say of each spool what it was at the end of each month; a bad verdict is never lifted."""
    found: dict[str, list[State]] = {}
    for place, end in enumerate(ends):
        checked: dict[str, bool] = {}
        bad, held = set(), set()
        for tell in tells:
            if tell["at"] >= end:
                continue
            lot = tell["lot"]
            if tell["tell"] == "check":
                checked[lot] = tell["within"]
            elif tell["tell"] == "verdict" and tell["verdict"] == "bad":
                bad.add(lot)
            elif tell["tell"] == "hold":
                (held.add if tell["on"] else held.discard)(lot)
        for lot in {one["lot"] for one in tells}:
            state = State.NOT_JUDGED
            if lot in held:
                state = State.ON_HOLD
            elif lot in bad or checked.get(lot) is False:
                state = State.FAILED
            elif lot in checked:
                state = State.PASSED
            found.setdefault(lot, []).append(state)
            assert len(found[lot]) == place + 1
    return {lot: tuple(states) for lot, states in found.items()}


def fates_of_entries(book: Mapping, ends: list[str]):
    """Give runs, lots and columns of a book of entries; a column for each lot that came in."""
    states = states_at(book["tells"], ends)
    none = (State.NOT_JUDGED,) * len(ends)
    runs: dict[str, RunFate] = {}
    lots: dict[str, LotFate] = {}
    columns: list[str] = []

    def cut(moment: str) -> int:
        return sum(moment >= end for end in ends)

    for entry in book["entries"]:
        if entry["entry"] != "run":
            columns.append(entry["lot"])
            lots[entry["lot"]] = LotFate(
                column=len(columns) - 1,
                melted_before=entry["entry"] == "opening" and entry["form"] in OUT_OF_MELTS,
            )
            given = (Moved(entry["lot"], cut(entry["at"]), entry["mass_mg"]),)
            runs[f"came {entry['lot']}"] = RunFate(Work.RECEIVES, given=given)
            continue
        at = cut(entry["ended_at"])
        moist = [
            c["value"] for c in entry.get("checks", []) if c["key"] == "moisture_after_percent"
        ]
        for output in entry["outputs"]:
            kind = Kind.OTHER
            if output["form"] == "filament":
                kind = Kind.PRODUCT
            elif output["form"] == "heel":
                kind = Kind.HEEL
            elif output["role"] in ("side", "waste"):
                kind = Kind.SIDE
            lots[output["lot"]] = LotFate(
                kind,
                states=states.get(output["lot"], none),
                water=float(moist[0]) / 100 if moist else 0.0,
                counts_accepted=output["role"] in ("product", "side"),
            )
        runs[entry["key"]] = RunFate(
            WORK.get(entry["stage"], Work.MIXES),
            tuple(Moved(one["lot"], at, one["mass_mg"]) for one in entry["inputs"]),
            tuple(Moved(one["lot"], at, one["mass_mg"]) for one in entry["outputs"]),
            tuple(Moved(None, at, one["mass_mg"]) for one in entry["losses"]),
            (Moved(None, at, entry.get("unaccounted_mg", 0)),),
        )
    return runs, lots, columns


class InventedBook:
    """A workshop that nobody has: months of work with whatever may go round, held or turn bad."""

    def __init__(self, seed: int, months: int = 3) -> None:
        self.chance = random.Random(seed)
        self.months, self.cuts = months, months + 1
        self.runs: dict[str, RunFate] = {}
        self.lots: dict[str, LotFate] = {}
        self.on_hand: dict[str, int] = {}
        self.forms: dict[str, str] = {}
        self.columns = self.number = self.found_mg = 0
        for month in range(months + 1):
            self._month(month)

    def _month(self, at: int) -> None:
        chance = self.chance
        for kind in ("bottles", "bottles", "bought", "opened"):
            if kind == "bottles" or at == 0 or chance.random() < 0.2:
                self._receive(at, kind)
        steps = ["sort", "shred", "dry", "melt", "melt", "wind", "grind", "give", "throw", "count"]
        for _ in range(2):
            for step in steps:
                if chance.random() < 0.8:
                    getattr(self, f"_{step}")(at)

    def _lot(self, form: str, mass_mg: int, kind: Kind, **more) -> str:
        self.number += 1
        key = f"{form}{self.number}"
        if kind is Kind.PRODUCT:
            more["states"] = self._states()
        self.lots[key] = LotFate(kind, **more)
        self.on_hand[key], self.forms[key] = mass_mg, form
        return key

    def _states(self) -> tuple[State, ...]:
        states = [self.chance.choice(list(State))]
        while len(states) < self.cuts:
            stays = self.chance.random() < 0.7
            states.append(states[-1] if stays else self.chance.choice(list(State)))
        return tuple(states)

    def _receive(self, at: int, kind: str) -> None:
        form = {"bottles": "bottles", "bought": "dried", "opened": "spool"}[kind]
        made = Kind.PRODUCT if form == "spool" else Kind.OTHER
        mass_mg = self.chance.randint(1_000_000, 9_000_000)
        lot = self._lot(form, mass_mg, made, column=self.columns, melted_before=kind == "opened")
        self.columns += 1
        self.runs[f"came {lot}"] = RunFate(Work.RECEIVES, given=(Moved(lot, at, mass_mg),))

    def _take(self, *forms: str, most: int = 3) -> list[tuple[str, int]]:
        there = [key for key, mass in self.on_hand.items() if mass and self.forms[key] in forms]
        taken = []
        for key in self.chance.sample(there, min(len(there), self.chance.randint(1, most))):
            part = self.chance.choice((1.0, 1.0, self.chance.random()))
            if mass_mg := int(self.on_hand[key] * part):
                self.on_hand[key] -= mass_mg
                taken.append((key, mass_mg))
        return taken

    def _run(self, at, work, taken, outputs, loss=0.01, **more) -> None:
        """Record a run; outputs are (form, kind, share). It gains in one of eight cases."""
        drawn_mg = sum(mass for _, mass in taken)
        if not drawn_mg:
            return
        lost_mg = int(drawn_mg * loss)
        gained_mg = int(drawn_mg * 0.004) if self.chance.random() < 0.125 else 0
        pool = drawn_mg - lost_mg + gained_mg
        missing = 0 if gained_mg else int(drawn_mg * 0.02 * self.chance.random())
        left, given = pool - missing, []
        for form, kind, share in outputs:
            mass_mg = int((pool - missing) * share) if (form, kind, share) != outputs[-1] else left
            left -= mass_mg
            accepted = kind is not Kind.SIDE or form == "caps"
            given.append(
                Moved(self._lot(form, mass_mg, kind, counts_accepted=accepted), at, mass_mg)
            )
        self.number += 1
        self.runs[f"run{self.number}"] = RunFate(
            work,
            tuple(Moved(key, at, mass) for key, mass in taken),
            tuple(given),
            (Moved(None, at, lost_mg),),
            (Moved(None, at, missing - gained_mg),),
            **more,
        )

    def _sort(self, at: int) -> None:
        sorted_out = [
            ("clean", Kind.OTHER, 0.9),
            ("caps", Kind.SIDE, 0.06),
            ("no", Kind.SIDE, 0.04),
        ]
        self._run(at, Work.SORTS, self._take("bottles"), sorted_out)

    def _shred(self, at: int) -> None:
        self._run(at, Work.MIXES, self._take("clean", "bottles"), [("flake", Kind.OTHER, 1.0)])

    def _dry(self, at: int) -> None:
        self._run(at, Work.MIXES, self._take("flake", most=5), [("dried", Kind.OTHER, 1.0)])

    def _melt(self, at: int) -> None:
        taken = self._take("dried", "heel", most=4) + self._take("spool", most=1)[:1]
        spools = [("spool", Kind.PRODUCT, 0.3), ("spool", Kind.PRODUCT, 0.299)]
        rest = [("heel", Kind.HEEL, 0.03), ("scrap", Kind.OTHER, 0.1), ("spool", Kind.PRODUCT, 1)]
        self._run(at, Work.MELTS, taken, spools + rest, loss=0.001)

    def _wind(self, at: int) -> None:
        wound = [
            ("offcuts", Kind.SIDE, 0.05),
            ("spool", Kind.PRODUCT, 0.5),
            ("spool", Kind.PRODUCT, 1),
        ]
        self._run(at, Work.MIXES, self._take("spool"), wound, loss=0)

    def _grind(self, at: int) -> None:
        taken = self._take("spool", most=2) + self._take("scrap", "offcuts", "no")
        self._run(at, Work.MIXES, taken, [("flake", Kind.OTHER, 1.0)])

    def _let_go(self, at: int, work: Work, taken: list[tuple[str, int]]) -> None:
        self.number += 1
        drawn = tuple(Moved(key, at, mass) for key, mass in taken)
        self.runs[f"gone{self.number}"] = RunFate(work, drawn)

    def _give(self, at: int) -> None:
        self._let_go(at, Work.DISPATCHES, self._take("spool", "caps"))

    def _throw(self, at: int) -> None:
        self._let_go(at, Work.DISCARDS, self._take("no", "scrap", "spool", most=1))

    def _count(self, at: int) -> None:
        there = [key for key, mass in self.on_hand.items() if mass > 1000]
        for key in self.chance.sample(there, min(len(there), 2)):
            off = self.chance.randint(-900, 900)
            self.on_hand[key] += off
            self.found_mg += max(off, 0)
            self.number += 1
            moved = (Moved(key, at, abs(off)),)
            drawn, given = (moved, ()) if off < 0 else ((), moved)
            self.runs[f"count{self.number}"] = RunFate(Work.COUNTS, drawn, given)
