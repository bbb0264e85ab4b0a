"""Every typed figure of runs with how sure it is, from its weighing, at the time of reading."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from operator import itemgetter
from typing import Any

from django.db.models import CharField, Q, QuerySet, Value

from recycling.calc.balance.known_masses import Known, Sureness, doubts
from recycling.ledger.models import BORDER, LOT, Posting
from recycling.models import Run, Weighing
from recycling.queries.balance.counted_masses import CountedMass, counted_masses
from recycling.queries.balance.covered import covered
from recycling.queries.balance.instruments import Instruments
from recycling.queries.lots import postings
from recycling.records.balance.known_masses import Doubt, KnownMass
from recycling.records.lots.lots import PostingRow
from recycling.stages import COUNTING
from recycling.stages.declaration import LOSSES, PRODUCT
from shared.measured import Measured, Parts, Source

CHUNK = 5_000
FOLLOWS = ("close", "void", "restate")
"""Kinds of entries whose figures nobody typed."""

COLUMNS = (
    "pk",
    "corrects_id",
    "entry__process_id",
    "entry__process__run__code",
    "entry__process__run__stage",
    "account_id",
    "account__kind",
    "account__name",
    "account__lot__code",
    "account__lot__form",
    "account__lot__polymer",
    "account__lot__role",
    "account__lot__count",
    "account__lot__made_by__stage",
    "mass_mg",
    "entry__happened_at",
    "entry__actor",
    "weighing__how",
    "weighing__tare_mg",
    "weighing__gross_mg",
    "weighing__scale_id",
    "weighing__sample_id",
    "weighing__u_mg",
    "weighing__raw",
    "weighing__note",
)
_NAMES = tuple(name.replace("entry__process__run__", "run_").split("__")[-1] for name in COLUMNS)
_ALL_COLUMNS = tuple(dict.fromkeys((*COLUMNS, *postings.COLUMNS)))

Step = tuple[datetime, bool, int, int, int, Sureness | None]
"""When, whether it is a count, its number or posting, the lot, +1 into it or −1 out, how sure."""


@dataclass(frozen=True)
class Figure:
    """A typed figure, its corrections added, and how sure it is."""

    row: dict[str, Any]
    mass_mg: int
    sure: Sureness
    known: Known

    @property
    def sign(self) -> int:
        """+1 for what went into the run, −1 for what came out."""
        into_lot = self.row["kind"] == LOT and self.row["mass_mg"] < 0
        return 1 if into_lot else -1

    @property
    def measured(self) -> Measured:
        """Its mass without sign, with what makes it uncertain, mg."""
        return self.sure.of(abs(self.mass_mg))

    @property
    def by_book(self) -> bool:
        """Whether a lot was taken whole, without a weighing of its own."""
        return self.row["how"] == Weighing.BY_BOOK

    @property
    def of_product(self) -> bool:
        """Whether it is of a product that the run gave."""
        return self.sign < 0 and self.row["role"] == PRODUCT and self.row["kind"] == LOT


def figures(
    workshop_id: int,
    where: Q,
    instruments: Instruments | None = None,
    from_the_start: bool = False,
) -> list[Figure]:
    """Read typed figures in the order written; `where` chooses among postings.

    A lot that was taken whole is as sure as all that was weighed of it before, so these figures
    are read with them; not so where `where` takes in all that happened from the start.
    """
    instruments = instruments or Instruments(workshop_id)
    typed = _typed(workshop_id)
    chosen = typed.filter(where).annotate(asked=Value(1))
    if not from_the_start:
        whole = typed.filter(where, weighing__how=Weighing.BY_BOOK).values("account_id")
        beside = typed.filter(account_id__in=whole).annotate(asked=Value(0))
        chosen = chosen.union(beside, all=True)
    rows = chosen.order_by("pk", "-asked").values_list("asked", *COLUMNS)
    return _known(rows, instruments, from_the_start)


def _known(
    rows: Iterable[tuple[Any, ...]], instruments: Instruments, from_the_start: bool = False
) -> list[Figure]:
    """Put figures together from whether each was asked for, and its ``COLUMNS``."""
    read = list(_figures(rows, instruments))
    taken_whole = {one.row["account_id"] for one, _ in read if one.by_book}
    if not taken_whole:
        return [one for one, asked in read if asked]
    counts = counted_masses(Q() if from_the_start else Q(lot_id__in=taken_whole), instruments)
    left = _left([one for one, _ in read], counts)
    return [
        replace(one, sure=Sureness(left[one.row["pk"]], "lot")) if one.by_book else one
        for one, asked in read
        if asked
    ]


def _figures(
    rows: Iterable[tuple[Any, ...]], instruments: Instruments
) -> Iterator[tuple[Figure, int]]:
    """Read figures, corrections added, and whether each was asked for or stands beside."""
    typed: dict[int, tuple[dict[str, Any], int]] = {}
    corrected: dict[int, dict[int, int]] = defaultdict(dict)
    for asked, *values in rows:
        row = dict(zip(_NAMES, values, strict=True))
        if row["corrects_id"]:
            corrected[row["corrects_id"]][row["pk"]] = row["mass_mg"]
        else:
            typed.setdefault(row["pk"], (row, asked))
    for pk, (row, asked) in typed.items():
        mass_mg = row["mass_mg"] + sum(corrected[pk].values() if pk in corrected else ())
        if mass_mg:
            known = instruments.known(row, mass_mg)
            yield Figure(row, mass_mg, instruments.sureness(known), known), asked


def _typed(workshop_id: int) -> QuerySet[Posting]:
    typed = Q(account__kind=LOT) | Q(account__kind=BORDER, account__name__in=LOSSES)
    return (
        Posting.objects.filter(typed, entry__book_id=workshop_id)
        .exclude(entry__kind__in=FOLLOWS)
        .exclude(entry__process__run__state=Run.VOID)
    )


def _left(on_lots: Iterable[Figure], counts: Iterable[CountedMass]) -> dict[int, Parts]:
    steps: list[Step] = [
        (
            one.row["happened_at"],
            False,
            one.row["pk"],
            one.row["account_id"],
            -one.sign,
            None if one.by_book else one.sure,
        )
        for one in on_lots
        if one.row["run_stage"] not in COUNTING
    ]
    return left_at(steps, counts)


def left_at(steps: Iterable[Step], counts: Iterable[CountedMass]) -> dict[int, Parts]:
    """Say what makes each lot uncertain that was taken whole: all weighed of it since its count.

    By posting; a step that does not say how sure it is took the lot whole.
    """
    made_of: dict[int, dict[Source, float]] = defaultdict(dict)
    left: dict[int, Parts] = {}
    counted: list[Step] = [
        (one.happened_at, True, one.number, one.lot_id, 1, one.sure) for one in counts
    ]
    in_order = sorted([*steps, *counted], key=itemgetter(0, 1, 2))
    for _, is_count, number, lot_id, sign, sure in in_order:
        lot = made_of[lot_id]
        if sure is None:
            left[number] = dict(lot)
        elif is_count:
            made_of[lot_id] = dict(sure.parts)
        else:
            for source, part in sure.parts.items():
                lot[source] = lot.get(source, 0.0) + sign * part
    return left


def figures_by_run(
    workshop_id: int, where: Q, instruments: Instruments | None = None
) -> dict[int, list[Figure]]:
    """Read typed figures of runs by the run's key; counts set lots and are none."""
    found: dict[int, list[Figure]] = defaultdict(list)
    in_runs = where & ~Q(entry__process__run__stage__in=COUNTING)
    for one in figures(workshop_id, in_runs, instruments):
        found[one.row["process_id"]].append(one)
    return found


def shown(one: Figure, instruments: Instruments) -> KnownMass:
    """Show a figure to people and programs."""
    row = one.row
    sample = instruments.samples.get(row["sample_id"]) if row["sample_id"] else None
    scale = instruments.scales.get(row["scale_id"])
    loss = row["kind"] == BORDER
    return KnownMass(
        posting=row["pk"],
        run=row["run_code"],
        side="in" if one.sign > 0 else "out",
        lot=row["code"] or "",
        form=row["form"] or "",
        account=row["name"] if loss else LOT,
        mass_mg=one.mass_mg if loss else abs(one.mass_mg),
        u_mg=one.sure.u_mg,
        how=Weighing.BY_BOOK if one.by_book else one.known.how,
        basis=one.sure.basis,
        assumption=instruments.assumption(one.sure.basis, one.known.how),
        scale=scale.name if scale else "",
        sample=sample.name if sample else "",
        gross_mg=row["gross_mg"],
        tare_mg=row["tare_mg"],
        raw=row["raw"] or "",
        note=row["note"] or "",
        doubts=tuple(Doubt(doubt.code, doubt.sentence) for doubt in doubts(one.known)),
        covered=covered(one.measured),
    )


def figures_of(run: Run, instruments: Instruments) -> list[Figure]:
    """Read every typed figure of a run, in the order written; a count has none of its own."""
    if run.stage in COUNTING:
        return []
    return figures(run.workshop_id, Q(entry__process_id=run.pk), instruments)


@dataclass(frozen=True)
class Posted:
    """All postings of a run, and the figures that were typed among them, in the order written."""

    postings: tuple[PostingRow, ...]
    figures: list[Figure]


def posted_of(run: Run, instruments: Instruments) -> Posted:
    """Read a run's postings and typed figures by one query, and counts where a lot went whole."""
    own = Q(entry__process_id=run.pk)
    if run.stage in COUNTING:
        return Posted(postings.postings_of(run.workshop_id, entry__process_id=run.pk), [])
    every = Posting.objects.filter(own, entry__book_id=run.workshop_id)
    typed = _typed(run.workshop_id)
    whole = typed.filter(own, weighing__how=Weighing.BY_BOOK).values("account_id")
    beside = typed.filter(account_id__in=whole)
    nobody = Value("", output_field=CharField())
    rows = list(
        every.annotate(asked=Value(1), by=postings.BY)
        .values_list("asked", *_ALL_COLUMNS)
        .union(
            beside.annotate(asked=Value(0), by=nobody).values_list("asked", *_ALL_COLUMNS),
            all=True,
        )
        .order_by("pk", "-asked")
    )
    shown = [dict(zip(_ALL_COLUMNS, row, strict=True)) for asked, *row in rows if asked]
    known = [row[: len(COLUMNS) + 1] for row in rows if not row[0] or _is_typed(run, row)]
    return Posted(
        tuple(postings.posting_row([one[name] for name in postings.COLUMNS]) for one in shown),
        _known(known, instruments),
    )


def _is_typed(run: Run, row: Sequence[Any]) -> bool:
    """Whether a posting is one that `_typed` would choose."""
    one = dict(zip(_ALL_COLUMNS, row[1:], strict=True))
    kind, name = one["account__kind"], one["account__name"]
    of_typed = kind == LOT or (kind == BORDER and name in LOSSES)
    return of_typed and one["entry__kind"] not in FOLLOWS and run.state != Run.VOID
