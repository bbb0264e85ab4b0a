"""The book as a small plain model: figures in a list, replayed from the beginning each time.

It knows nothing of accounts, entries or restating. A lot's mass is what its events leave when they
are played in order of time, a count setting it to what was found. A composition is a fraction.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

OPEN, CLOSED, VOID = "open", "closed", "void"
FLOOR = Fraction(1, 1_000_000)


@dataclass
class Figure:
    """A mass that somebody typed: plus is into the lot or loss; `lot` is empty for dust."""

    run: str
    lot: str
    at: int
    mass_mg: int
    posting: int = 0
    sign: int = 1


@dataclass
class Made:
    """A run; of an origin when it received something."""

    code: str
    kind: str
    state: str
    started: int
    last: int
    origin: str = ""


@dataclass
class Count:
    """What a count found."""

    run: str
    lot: str
    at: int
    mass_mg: int


@dataclass
class Model:
    """All of a book."""

    runs: dict[str, Made] = field(default_factory=dict)
    makers: dict[str, str] = field(default_factory=dict)
    figures: list[Figure] = field(default_factory=list)
    counts: list[Count] = field(default_factory=list)
    holds: dict[int, tuple[str, bool]] = field(default_factory=dict)

    def standing(self) -> Iterator[Figure]:
        """Yield the figures of runs that are not void."""
        return (one for one in self.figures if self.runs[one.run].state != VOID)

    def path(self, lot: str) -> list[tuple[int, int]]:
        """Replay a lot: (time, mass after that time)."""
        events: dict[int, list[int]] = {}
        for one in self.standing():
            if one.lot == lot:
                events.setdefault(one.at, []).append(one.mass_mg)
        found = {
            count.at: count.mass_mg
            for count in self.counts
            if count.lot == lot and self.runs[count.run].state != VOID
        }
        mass, path = 0, []
        for at in sorted(events.keys() | found.keys()):
            mass = found[at] if at in found else mass + sum(events[at])
            path.append((at, mass))
        return path

    def on_hand(self, lot: str) -> int:
        """Return what is left of a lot, in mg."""
        path = self.path(lot)
        return path[-1][1] if path else 0

    def sound(self, lots: set[str]) -> bool:
        """Whether none of these lots is below zero at any time."""
        return all(mass >= 0 for lot in lots for _, mass in self.path(lot))

    def net(self, run: str, lot: str) -> int:
        """Return what a run moved into a lot in all, in mg; below zero for a draw."""
        return sum(one.mass_mg for one in self.standing() if (one.run, one.lot) == (run, lot))

    def made_mg(self, lot: str) -> int:
        """Return what a lot's run gave, in mg."""
        return self.net(self.makers[lot], lot)

    def draws(self, run: str) -> dict[str, int]:
        """Return what a run drew from each lot, in mg."""
        lots = dict.fromkeys(one.lot for one in self.standing() if one.run == run and one.lot)
        nets = {lot: -self.net(run, lot) for lot in lots if self.makers[lot] != run}
        return {lot: mass for lot, mass in nets.items() if mass > 0}

    def in_process(self, run: str) -> int:
        """Return what is inside an open run, in mg."""
        return -sum(one.mass_mg for one in self.standing() if one.run == run)

    def unaccounted(self) -> int:
        """Return what closed all runs and counts, in mg."""
        closing = sum(
            self.in_process(code)
            for code, run in self.runs.items()
            if run.kind == "run" and run.state == CLOSED
        )
        for count in self.counts:
            if self.runs[count.run].state == VOID:
                continue
            before = [mass for at, mass in self.path(count.lot) if at < count.at]
            closing += (before[-1] if before else 0) - count.mass_mg
        return closing

    def dust(self) -> int:
        """Return all measured losses, in mg."""
        return sum(one.mass_mg for one in self.standing() if not one.lot)

    def users(self, lot: str) -> set[str]:
        """Name the runs that draw from a lot."""
        return {run for run in self.runs if lot in self.draws(run)}

    def given(self, run: str) -> list[str]:
        """Name the lots of a run."""
        return [lot for lot, maker in self.makers.items() if maker == run]

    def downstream(self, run: str) -> set[str]:
        """Name a run and all that descend from what it gave."""
        found, new = {run}, [run]
        while new:
            for lot in self.given(new.pop()):
                for user in self.users(lot) - found:
                    found.add(user)
                    new.append(user)
        return found

    def held(self, lot: str) -> bool:
        """Whether a hold is on a lot, or spreads to it."""
        if any(target == lot for target, _ in self.holds.values()):
            return True
        spreading = {target for target, spreads in self.holds.values() if spreads}
        return any(
            self.makers[lot] in self.downstream(user)
            for target in spreading
            for user in self.users(target)
        )

    def compositions(self) -> dict[str, tuple[dict[str, Fraction], Fraction]]:
        """Compose every lot exactly, well mixed: shares, and how far off whole mg may be, in mg.

        A draw is rounded by less than 1 mg for each origin, an output too, and what lies under
        the floor is collected; what was off before scales with the mass.
        """
        known: dict[str, tuple[dict[str, Fraction], Fraction]] = {}

        def compose(lot: str) -> tuple[dict[str, Fraction], Fraction]:
            if lot not in known:
                known[lot] = self._compose(lot, compose)
            return known[lot]

        for lot in self.makers:
            compose(lot)
        return known

    def _compose(self, lot: str, compose) -> tuple[dict[str, Fraction], Fraction]:
        run = self.runs[self.makers[lot]]
        if run.origin:
            return {run.origin: Fraction(1)}, Fraction(0)
        draws = self.draws(run.code)
        drawn = sum(draws.values())
        if not drawn:
            return {}, Fraction(0)
        shares: dict[str, Fraction] = {}
        off = Fraction(0)
        for source, mass in draws.items():
            parts, off_before = compose(source)
            for origin, share in parts.items():
                shares[origin] = shares.get(origin, Fraction(0)) + share * mass / drawn
            whole = self.made_mg(source)
            off += 1 + (off_before * mass / whole if whole else mass)
        made = self.made_mg(lot)
        return shares, off * made / drawn + 1 + FLOOR * made
