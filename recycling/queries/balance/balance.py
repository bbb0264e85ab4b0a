"""What adds up: every account now, each stage and the statement of a period."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import Any

from django.db.models import Count, F, Q, Sum

from recycling.calc.balance.yields import stage_yield_share
from recycling.ledger.models import BORDER, LOT, PROCESS, Account, Book, Posting
from recycling.models import Draw, Lot, Run
from recycling.records.actors import Actor
from recycling.records.balance.balance import (
    BalanceNow,
    BorderNow,
    Flow,
    LotNow,
    StageBalance,
    Statement,
)
from recycling.records.lots.stock import ProcessNow
from recycling.stages import STAGES
from recycling.stages.declaration import (
    DISCARDED,
    DISPATCHED,
    LOSSES,
    PRODUCT,
    RECEIVED,
    ROLES,
    UNACCOUNTED,
)
from shared.errors import Refused

LOSS = "loss"


def balance_now(actor: Actor) -> BalanceNow:
    """Read every account in one statement, so from one snapshot; it adds up to zero."""
    rows = (
        Account.objects.filter(book_id=actor.workshop_id)
        .filter(~Q(balance_mg=0))
        .order_by("pk")
        .values_list(
            "kind",
            "name",
            "commodity",
            "balance_mg",
            "lot__code",
            "lot__form",
            "run__code",
            "run__stage",
            "book__last_sequence",
        )
    )
    lots, processes, borders = [], [], []
    sequence = 0
    for kind, name, polymer, mass_mg, lot, form, run, stage, last in rows:
        sequence = last
        if kind == LOT:
            lots.append(LotNow(lot, form, polymer, mass_mg))
        elif kind == PROCESS:
            processes.append(ProcessNow(run, stage, polymer, mass_mg))
        else:
            borders.append(BorderNow(name, polymer, mass_mg))
    if not sequence:
        sequence = Book.objects.values_list("last_sequence", flat=True).get(pk=actor.workshop_id)
    total = sum(one.mass_mg for group in (lots, processes, borders) for one in group)
    return BalanceNow(sequence, tuple(lots), tuple(processes), tuple(borders), total)


def checked_period(start: datetime, end: datetime) -> None:
    """Refuse a period that ends before it starts."""
    if end <= start:
        raise Refused.because("end-before-start", "The period's end is not after its start.", "/to")


def stages_balance(
    actor: Actor, start: datetime, end: datetime, polymer: str = ""
) -> list[StageBalance]:
    """Add up each stage over its closed runs that ended from `start` up to but not at `end`.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    checked_period(start, end)
    sums = _stage_sums(actor.workshop_id, start, end, polymer)
    return [
        _stage_line(declared.key, declared.title, sums[declared.key])
        for declared in STAGES
        if declared.key in sums
    ]


def _runs(workshop_id: int, start: datetime, end: datetime, polymer: str) -> Q:
    wanted = Q(workshop_id=workshop_id, state=Run.CLOSED, ended_at__gte=start, ended_at__lt=end)
    return wanted & Q(polymer=polymer) if polymer else wanted


def _stage_sums(
    workshop_id: int, start: datetime, end: datetime, polymer: str
) -> dict[str, dict[str, Any]]:
    runs = Run.objects.filter(_runs(workshop_id, start, end, polymer))
    sums: dict[str, dict[str, Any]] = {}
    for stage, count in runs.values_list("stage").annotate(Count("pk")).order_by():
        sums[stage] = {"runs": count, "in": 0, "target": 0, "out": {}, "left": defaultdict(int)}
    drawn = Draw.objects.filter(run__in=runs).values_list("run__stage").order_by()
    own = Q(lot__polymer=F("run__polymer"))
    for stage, mass_mg, target in drawn.annotate(
        drawn=Sum("mass_mg"), target=Sum("mass_mg", filter=own)
    ):
        sums[stage]["in"], sums[stage]["target"] = mass_mg, target or 0
    made = Lot.objects.filter(made_by__in=runs).values_list("made_by__stage", "role").order_by()
    for stage, role, mass_mg in made.annotate(Sum("made_mg")):
        sums[stage]["out"][role] = mass_mg
    left = Posting.objects.filter(entry__process__run__in=runs, account__kind=BORDER)
    names = left.values_list("entry__process__run__stage", "account__name").order_by()
    for stage, name, mass_mg in names.annotate(Sum("mass_mg")):
        sums[stage]["left"][name] = mass_mg
    return sums


def _stage_line(key: str, title: str, sums: dict[str, Any]) -> StageBalance:
    left = {name: mass for name, mass in sums["left"].items() if mass and name != UNACCOUNTED}
    made = {role: sums["out"][role] for role in ROLES if sums["out"].get(role)}
    has_yield = PRODUCT in made and sums["target"]
    return StageBalance(
        stage=key,
        title=title,
        runs=sums["runs"],
        inputs_mg=sums["in"],
        outputs_mg=made,
        losses_mg={name: mass for name, mass in left.items() if name != RECEIVED},
        unaccounted_mg=sums["left"][UNACCOUNTED],
        stage_yield=stage_yield_share(made[PRODUCT], sums["target"]) if has_yield else None,
    )


def statement(
    actor: Actor,
    start: datetime,
    end: datetime,
    polymer: str = "",
    known_at: datetime | None = None,
) -> list[Statement]:
    """Draw up a period's statement for each polymer and, last, for all together.

    With `known_at` it is drawn up from what had been written by then.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    checked_period(start, end)
    sums = _statement_sums(actor.workshop_id, start, end, known_at)
    polymers = sorted({key[0] for key in sums})
    if polymer:
        return [statement_of(polymer, start, end, sums, {polymer})]
    each = [statement_of(name, start, end, sums, {name}) for name in polymers]
    return [*each, statement_of("", start, end, sums, set(polymers))]


Sums = dict[tuple[str, str], tuple[int, int]]


def _statement_sums(
    workshop_id: int, start: datetime, end: datetime, known_at: datetime | None
) -> Sums:
    postings = Posting.objects.filter(entry__book_id=workshop_id, entry__happened_at__lt=end)
    if known_at is not None:
        postings = postings.filter(entry__written_at__lte=known_at)
    before = Q(entry__happened_at__lt=start)
    rows = (
        postings.values_list("account__commodity", "account__kind", "account__name")
        .order_by()
        .annotate(opening=Sum("mass_mg", filter=before), whole=Sum("mass_mg"))
    )
    return {
        (polymer, name if kind == BORDER else kind): (opening or 0, whole or 0)
        for polymer, kind, name, opening, whole in rows
    }


def statement_of(
    polymer: str, start: datetime, end: datetime, sums: Sums, polymers: set[str]
) -> Statement:
    """Draw up one statement from sums by polymer and account: at the start, and at the end."""

    def opening(account: str) -> int:
        return sum(sums.get((name, account), (0, 0))[0] for name in polymers)

    def whole(account: str) -> int:
        return sum(sums.get((name, account), (0, 0))[1] for name in polymers)

    def moved(account: str) -> int:
        return whole(account) - opening(account)

    accounts = {key[1] for key in sums if key[0] in polymers}
    return Statement(
        polymer=polymer,
        start=start,
        end=end,
        opening_mg=opening(LOT) + opening(PROCESS),
        received_mg=-moved(RECEIVED),
        reclassified_mg=sum(moved(account) for account in accounts),
        dispatched_mg=moved(DISPATCHED),
        discarded_mg=moved(DISCARDED),
        losses_mg={account: moved(account) for account in LOSSES},
        unaccounted_mg=moved(UNACCOUNTED),
        closing_mg=whole(LOT),
        in_process_mg=whole(PROCESS),
    )


def flows(actor: Actor, start: datetime, end: datetime) -> list[Flow]:
    """Say how much moved between stages in a period, for a drawing of it.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    checked_period(start, end)
    titles = {declared.key: declared.title for declared in STAGES}
    runs = Run.objects.filter(_runs(actor.workshop_id, start, end, ""))
    found: dict[tuple[str, str, str], int] = defaultdict(int)
    drawn = Draw.objects.filter(run__in=runs).values_list(
        "lot__made_by__stage", "lot__made_by__ended_at", "lot__role", "run__stage", "mass_mg"
    )
    used: dict[tuple[str, str], int] = defaultdict(int)
    for maker, made_at, role, taker, mass_mg in drawn:
        inside = made_at is not None and start <= made_at < end
        source = titles.get(maker, maker) if inside else "Opening stock"
        found[source, titles.get(taker, taker), role] += mass_mg
        if inside:
            used[maker, role] += mass_mg
    made = Lot.objects.filter(made_by__in=runs).values_list("made_by__stage", "role").order_by()
    for maker, role, mass_mg in made.annotate(Sum("made_mg")):
        rest = mass_mg - used[maker, role]
        if rest > 0:
            found[titles.get(maker, maker), f"Stock: {ROLES[role]}", role] += rest
    left = Posting.objects.filter(entry__process__run__in=runs, account__kind=BORDER)
    names = left.values_list("entry__process__run__stage", "account__name").order_by()
    for stage, name, mass_mg in names.annotate(Sum("mass_mg")):
        if mass_mg > 0:
            role = PRODUCT if name == DISPATCHED else LOSS
            found[titles.get(stage, stage), name.capitalize(), role] += mass_mg
    return [
        Flow(source, target, mass_mg, role)
        for (source, target, role), mass_mg in found.items()
        if mass_mg > 0
    ]
