"""The flows of a period between lots and runs, as a network with their weighings.

A lot is a balance over the period: what it held at the start and what was made of it comes in,
what was drawn and what is left goes out. A run is one too: what it drew comes in, what it gave and
lost goes out. A lot that was counted is two balances in a row, with the counted mass between them,
also where the count found what the book had.
What was taken whole was not weighed again, so such a flow is not measured; neither is what is left
in stock. A void run, an open one, one that reaches over an end of the period, and one that only
crosses the border is no balance.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from math import nan, sqrt

from django.db.models import Q

from recycling.calc.balance.flow_network import BORDER as OUTSIDE
from recycling.ledger.models import LOT
from recycling.models import Run
from recycling.queries.balance.closures import CLOSING
from recycling.queries.balance.counted_masses import CountedMass, counted_masses
from recycling.queries.balance.known_masses import Figure, Instruments, figures
from recycling.stages import COUNTING


@dataclass
class WeighedFlow:
    """A flow from one balance to another: ends, figure in mg, and what it is of."""

    kind: str
    source: int
    target: int
    mass_mg: int
    u_mg: float
    run_id: int | None = None
    lot_id: int | None = None
    posting_id: int | None = None

    @property
    def measured(self) -> bool:
        """Whether it was weighed."""
        return self.u_mg == self.u_mg


@dataclass
class _Lot:
    """A lot on its way through the period: its balance now, what is on hand, and how sure."""

    balance: int
    on_hand_mg: int = 0
    squares: float = 0.0
    seen: bool = False


@dataclass
class Network:
    """Flows and the number of balances between them."""

    flows: list[WeighedFlow] = field(default_factory=list)
    balances: int = 0

    def new_balance(self) -> int:
        """Number one more balance."""
        self.balances += 1
        return self.balances - 1


def weighed_flows(workshop_id: int, start: datetime, end: datetime) -> list[WeighedFlow]:
    """Read the flows of a period in the order they happened."""
    instruments = Instruments(workshop_id)
    before = Q(entry__happened_at__lt=end)
    found = figures(workshop_id, before, instruments, from_the_start=True)
    counts = counted_masses(Q(run__ended_at__lt=end), instruments)
    closed = set(
        Run.objects.filter(
            workshop_id=workshop_id, state=Run.CLOSED, stage__in=CLOSING, ended_at__lt=end
        ).values_list("pk", flat=True)
    )
    walk = _Walk(start, closed, found)
    for step in _in_order(found, counts):
        walk.step(step)
    walk.finish()
    return without_loops(walk.network.flows, instruments.assumed.estimated_share)


def _in_order(found: list[Figure], counts: list[CountedMass]) -> list[Figure | CountedMass]:
    """Put figures and counts in the order they happened; a count comes after all at its time."""
    steps: dict[tuple[datetime, bool, int], Figure | CountedMass] = {}
    for one in found:
        if one.row["run_stage"] not in COUNTING:
            steps[one.row["happened_at"], False, one.row["pk"]] = one
    for count in counts:
        steps[count.happened_at, True, count.number] = count
    return [steps[at] for at in sorted(steps)]


class _Walk:
    """Goes through the figures in order and keeps what each lot holds."""

    def __init__(self, start: datetime, closed: set[int], found: list[Figure]) -> None:
        self.start, self.closed = start, closed
        self.set_right = {
            (one.row["process_id"], one.row["account_id"]): one
            for one in found
            if one.row["run_stage"] in COUNTING and one.row["kind"] == LOT
        }
        self.network = Network()
        self.lots: dict[int, _Lot] = {}
        self.runs: dict[int, int] = {}
        self.opened = False

    def step(self, one: Figure | CountedMass) -> None:
        if isinstance(one, CountedMass):
            self.opened = self.opened or one.happened_at >= self.start
            self._count(one)
            return
        self.opened = self.opened or one.row["happened_at"] >= self.start
        if not self.opened:
            self.closed.discard(one.row["process_id"])
        if one.row["kind"] != LOT:
            if self.opened and one.row["process_id"] in self.closed:
                self._flow("loss", one, self._run(one), OUTSIDE)
            return
        if one.sign > 0:
            self._draw(one)
        else:
            self._output(one)

    def _lot(self, lot_id: int) -> _Lot:
        """The lot's balance; the first time in the period, with what it held at the start."""
        lot = self.lots.setdefault(lot_id, _Lot(-1))
        if self.opened and not lot.seen:
            lot.seen, lot.balance = True, self.network.new_balance()
            if lot.on_hand_mg > 0:
                opening = WeighedFlow(
                    "opening",
                    OUTSIDE,
                    lot.balance,
                    lot.on_hand_mg,
                    sqrt(lot.squares) or nan,
                    lot_id=lot_id,
                )
                self.network.flows.append(opening)
        return lot

    def _run(self, one: Figure) -> int:
        run_id = one.row["process_id"]
        if run_id not in self.closed:
            return OUTSIDE
        if run_id not in self.runs:
            self.runs[run_id] = self.network.new_balance()
        return self.runs[run_id]

    def _draw(self, one: Figure) -> None:
        lot = self._lot(one.row["account_id"])
        lot.on_hand_mg -= abs(one.mass_mg)
        lot.squares += 0.0 if one.by_book else one.sure.u_mg**2
        if self.opened:
            self._flow("draw", one, lot.balance, self._run(one))

    def _output(self, one: Figure) -> None:
        lot = self._lot(one.row["account_id"])
        lot.on_hand_mg += abs(one.mass_mg)
        lot.squares += one.sure.u_mg**2
        if self.opened:
            self._flow("output", one, self._run(one), lot.balance)

    def _count(self, count: CountedMass) -> None:
        lot = self._lot(count.lot_id)
        posted = self.set_right.get((count.run_id, count.lot_id))
        lot.on_hand_mg += posted.mass_mg if posted else 0
        lot.squares = count.sure.u_mg**2
        if not self.opened or not count.mass_mg:
            return
        after = self.network.new_balance()
        flow = WeighedFlow("counted", lot.balance, after, count.mass_mg, count.sure.u_mg)
        flow.run_id, flow.lot_id = count.run_id, count.lot_id
        flow.posting_id = posted.row["pk"] if posted else None
        self.network.flows.append(flow)
        lot.balance = after

    def _flow(self, kind: str, one: Figure, source: int, target: int) -> None:
        mass_mg = abs(one.mass_mg)
        if kind == "loss" and one.mass_mg < 0:
            source, target = target, source
        if source == target:
            return
        u_mg = nan if one.by_book else one.sure.u_mg
        lot_id = one.row["account_id"] if one.row["kind"] == LOT else None
        self.network.flows.append(
            WeighedFlow(
                kind, source, target, mass_mg, u_mg, one.row["process_id"], lot_id, one.row["pk"]
            )
        )

    def finish(self) -> None:
        """Let what is left of each lot leave as stock, not weighed."""
        for lot_id, lot in self.lots.items():
            if lot.seen and lot.on_hand_mg > 0:
                self.network.flows.append(
                    WeighedFlow("stock", lot.balance, OUTSIDE, lot.on_hand_mg, nan, lot_id=lot_id)
                )


def without_loops(flows: list[WeighedFlow], estimated_share: float) -> list[WeighedFlow]:
    """Take as estimated what closes a loop of flows that were not weighed: it cannot be computed.

    This happens where a lot was taken whole by the book and more of it turned up later.
    """
    top: dict[int, int] = {}

    def root(node: int) -> int:
        while top.get(node, node) != node:
            top[node] = top.get(top[node], top[node])
            node = top[node]
        return node

    for flow in flows:
        if flow.measured:
            continue
        first, second = root(flow.source), root(flow.target)
        if first == second:
            flow.u_mg = max(flow.mass_mg * estimated_share, 1.0)
        else:
            top[first] = second
    return flows
