"""Every mass that moved up to a period's end, in whole and for what a report is about."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import groupby
from operator import itemgetter
from typing import Any

from recycling.ledger.models import LOT, PROCESS
from recycling.ledger.sql import rows
from recycling.models import Lot, Run
from recycling.reports.scope import Scope
from recycling.reports.shares import NOTHING, Held, Share, Shares, lot_shares
from recycling.stages import STAGES
from recycling.stages.declaration import UNACCOUNTED
from shared.apportion import stretch

FEED_ORDER = "feed order"
AT_THE_BORDER = frozenset(one.key for one in STAGES if one.border or one.counts)

Key = tuple[str, str, int]
"""Kind and polymer of an account, and the lot where it is one."""

Moved = tuple[int, str, str, str, int, int]
"""Place of a cut; kind, name, commodity and key of an account; mass that moved up to the cut."""

_READ = """
SELECT e.process_id, CASE {cuts} END, a.kind, a.name, a.commodity, a.id,
       CAST(SUM(p.mass_mg) AS BIGINT)
  FROM ledger_posting p
  JOIN ledger_entry e ON e.id = p.entry_id
  JOIN ledger_account a ON a.id = p.account_id
 WHERE e.book_id = %s AND e.happened_at < %s AND a.kind <> 'process'
 GROUP BY 1, 2, a.id
 ORDER BY 1
"""


@dataclass(frozen=True, slots=True)
class RunRow:
    """A run as far as reports need it."""

    code: str
    stage: str
    state: str
    polymer: str
    model: str
    origin_kind: str
    ended_at: Any
    machine_id: int | None


@dataclass(frozen=True, slots=True)
class LotRow:
    """A lot as far as reports need it."""

    code: str
    form: str
    polymer: str
    role: str
    maker: int
    made_mg: int
    is_spool: bool


@dataclass(frozen=True, slots=True)
class Movement:
    """What one run moved on one account between two cuts; plus is into the account.

    ``mass_mg`` is the part that the report is about, ``whole_mg`` all of it, ``collected_mg``
    what of it comes from collections. ``moved_mg`` is all that had moved up to the cut before.
    """

    run_id: int
    lot_id: int
    account: str
    polymer: str
    cut: int
    moved_mg: int
    whole_mg: int
    mass_mg: int
    collected_mg: int


@dataclass
class Movements:
    """All of them, with the runs, lots and shares they are of."""

    scope: Scope
    runs: dict[int, RunRow]
    lots: dict[int, LotRow]
    shares: Shares
    held: dict[int, Held]
    """By lot of filament: who is in it."""
    inside: list[Movement] = field(default_factory=list)
    sums: dict[tuple[str, str], list[int]] = field(
        default_factory=lambda: defaultdict(lambda: [0, 0])
    )
    """By polymer and account: the part up to the start, and up to the end."""
    stock: dict[int, list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0]))
    """By lot: all that was on hand at the start and at the end."""
    moved: list[tuple[int, list[Moved]]] = field(default_factory=list)
    """By run, all that it moved up to each cut."""
    inside_runs: dict[int, int] = field(default_factory=dict)
    """By run that was open at the end: the part inside it."""

    def share(self, lot_id: int) -> Share:
        """Give the stretch of a lot that comes from the collections followed."""
        return self.shares.get(lot_id, NOTHING)

    def part(self, lot_id: int, mass_mg: int) -> int:
        """Give what the report is about of a mass of a lot, mg."""
        return mass_mg if self.scope.is_whole else self.share(lot_id).of(mass_mg)


def movements(scope: Scope) -> Movements:
    """Read them; a constant number of statements."""
    found = Movements(scope, _runs(scope), _lots(scope), *lot_shares(scope))
    for run_id, moved in _by_run(scope):
        found.moved.append((run_id, moved))
        if not _add_plain(found, run_id, moved):
            _add_run(found, run_id, moved)
    for lot_id, (opening_mg, whole_mg) in found.stock.items():
        sums = found.sums[found.lots[lot_id].polymer, LOT]
        sums[0] += found.part(lot_id, opening_mg)
        sums[1] += found.part(lot_id, whole_mg)
    return found


def _runs(scope: Scope) -> dict[int, RunRow]:
    rows = Run.objects.filter(
        workshop_id=scope.actor.workshop_id, started_at__lt=scope.end
    ).values_list(
        "pk",
        "code",
        "stage",
        "state",
        "polymer",
        "composition_model",
        "origin__kind",
        "ended_at",
        "machine_id",
    )
    return {row[0]: RunRow(*row[1:6], row[6] or "", *row[7:]) for row in rows.iterator()}


def _lots(scope: Scope) -> dict[int, LotRow]:
    rows = Lot.objects.filter(workshop_id=scope.actor.workshop_id).values_list(
        "pk", "code", "form", "polymer", "role", "made_by_id", "made_mg", "spool__lot_id"
    )
    return {row[0]: LotRow(*row[1:7], row[7] is not None) for row in rows.iterator()}


def _by_run(scope: Scope) -> Iterator[tuple[int, list[Moved]]]:
    """Yield each run with what it moved: cut, kind, name, polymer, account, mass."""
    cuts = " ".join("WHEN e.happened_at < %s THEN %s" for _ in scope.cuts)
    placed = [value for place, moment in enumerate(scope.cuts) for value in (moment, place)]
    read = rows(_READ.format(cuts=cuts), [*placed, scope.actor.workshop_id, scope.end])
    for run_id, moved in groupby(read, itemgetter(0)):
        yield run_id, [row[1:] for row in moved]


def _add_plain(found: Movements, run_id: int, moved: list[Moved]) -> bool:
    """Add a run of which all moved between the same two cuts; say whether it is such a run."""
    cut = moved[0][0]
    if any(row[0] != cut or not row[5] for row in moved):
        return False
    whole = {
        (LOT, row[3], row[4]) if row[1] == LOT else (row[2], row[3], 0): row[5] for row in moved
    }
    parts = _parts(found, run_id, found.runs[run_id], whole)
    shown = whole if found.scope.is_whole else parts
    if cut:
        found.inside += [
            Movement(run_id, key[2], key[0], key[1], cut - 1, 0, mass_mg, shown[key], parts[key])
            for key, mass_mg in whole.items()
        ]
    else:
        _sum(found, run_id, whole, parts, 0)
    _sum(found, run_id, whole, parts, 1)
    return True


def _add_run(found: Movements, run_id: int, moved: list[Moved]) -> None:
    run, scope = found.runs[run_id], found.scope
    states: dict[int, dict[Key, int]] = {}
    for place, kind, name, polymer, account_id, mass_mg in moved:
        key = (LOT, polymer, account_id) if kind == LOT else (name, polymer, 0)
        states.setdefault(place, {})[key] = mass_mg
    whole: dict[Key, int] = {}
    parts: dict[Key, int] = {}
    for cut in sorted(states):
        before, before_parts = whole, parts
        whole = dict(whole)
        for key, mass_mg in states[cut].items():
            whole[key] = whole.get(key, 0) + mass_mg
        parts = _parts(found, run_id, run, whole)
        for key, mass_mg in whole.items():
            moved_mg = before.get(key, 0)
            part_mg = parts.get(key, 0) - before_parts.get(key, 0)
            if cut and (mass_mg != moved_mg or part_mg):
                change_mg = mass_mg - moved_mg
                found.inside.append(
                    Movement(
                        run_id,
                        key[2],
                        key[0],
                        key[1],
                        cut - 1,
                        moved_mg,
                        change_mg,
                        change_mg if scope.is_whole else part_mg,
                        part_mg,
                    )
                )
        if not cut:
            _sum(found, run_id, whole, parts, 0)
    _sum(found, run_id, whole, parts, 1)


def _sum(
    found: Movements, run_id: int, whole: dict[Key, int], parts: dict[Key, int], place: int
) -> None:
    shown = whole if found.scope.is_whole else parts
    for (account, polymer, lot_id), mass_mg in whole.items():
        if account == LOT:
            found.stock[lot_id][place] += mass_mg
        else:
            found.sums[polymer, account][place] += shown[account, polymer, lot_id]
    if inside_mg := -sum(whole.values()):
        part_mg = inside_mg if found.scope.is_whole else -sum(parts.values())
        found.sums[found.runs[run_id].polymer, PROCESS][place] += part_mg
        if place and part_mg:
            found.inside_runs[run_id] = part_mg


def _parts(found: Movements, run_id: int, run: RunRow, whole: dict[Key, int]) -> dict[Key, int]:
    """Give the part of each account: of lots by who is in them, of losses by what was drawn."""
    parts = {key: found.share(key[2]).of(mass) for key, mass in whole.items() if key[2]}
    borders = {key: mass for key, mass in whole.items() if not key[2]}
    if not any(parts.values()):
        return dict.fromkeys(whole, 0)
    if run.stage in AT_THE_BORDER:
        for account, polymer, _ in borders:
            moved = (part for key, part in parts.items() if key[2] and key[1] == polymer)
            parts[account, polymer, 0] = -sum(moved)
        return parts
    drawn = [
        (found.share(key[2]), -mass)
        for key, mass in whole.items()
        if key[2] and mass < 0 and found.lots[key[2]].maker != run_id
    ]
    before = sum(share.before(mass) for share, mass in drawn)
    own = sum(share.of(mass) for share, mass in drawn)
    all_mg = sum(mass for _, mass in drawn)
    for key, mass in borders.items():
        parts[key] = stretch(mass, before, own, all_mg) if own else 0
    if run.model == FEED_ORDER and borders and not sum(whole.values()):
        last = max(borders, key=lambda key: (key[0] == UNACCOUNTED, abs(borders[key]), key))
        parts[last] -= sum(parts.values())
    return parts
