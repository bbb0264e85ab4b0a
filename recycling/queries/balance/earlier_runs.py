"""Closed runs in the order in which they ended: what a band of usual loss is learnt from."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from django.db.models import Case, F, OuterRef, Q, Subquery, Sum, Value, When, Window
from django.db.models.functions import Coalesce, RowNumber

from recycling.calc.balance.judging import Closed
from recycling.calc.balance.slip_changes import Typed
from recycling.calc.balance.usual_loss import RUNS_KEPT, Past, Usual, first_for, learn
from recycling.calc.balance.usual_sizes import Kind
from recycling.ledger.models import BORDER, Posting
from recycling.models import Draw, Lot, Run
from recycling.queries.balance.instruments import Instruments
from recycling.stages import stage as stage_of
from recycling.stages.declaration import LOSSES, UNACCOUNTED

USUAL_KEY = "usual_loss_{}_percent"
"""Settings of the workshop: what a stage usually loses, where people say so."""


def closes_stage(stage: str) -> bool:
    """Whether runs of a stage draw, give, and close."""
    declared = stage_of(stage)
    return declared is not None and not declared.border and not declared.counts


class Closing(Protocol):
    """A closed run, as far as a band for it is asked for."""

    @property
    def pk(self) -> int: ...
    @property
    def stage(self) -> str: ...
    @property
    def machine_id(self) -> int | None: ...
    @property
    def polymer(self) -> str: ...
    @property
    def ended_at(self) -> datetime | None: ...


@dataclass(frozen=True)
class Ending:
    """A closed run that was read without the rest of it."""

    pk: int
    stage: str
    machine_id: int | None
    polymer: str
    ended_at: datetime | None


@dataclass(frozen=True)
class Ended(Ending):
    """A closed run, who gave what it weighed in, and what a band learns from it."""

    source: str
    went_in_mg: int
    unaccounted_mg: int

    @property
    def past(self) -> Past:
        """It as one of the runs that a band is learnt from; scatter has its weighings in it."""
        machine = str(self.machine_id or "")
        return Past(self.went_in_mg, self.unaccounted_mg, 0.0, machine, self.polymer)


class EarlierRuns:
    """The runs of some stages between two moments, and the last 120 of each stage before.

    One query reads them for all stages that are asked for together.
    """

    def __init__(self, instruments: Instruments, first: datetime, last: datetime) -> None:
        self.instruments, self.first, self.last = instruments, first, last
        self._ended: dict[str, list[Ended]] = {}
        self._closed: dict[str, list[Closed]] = {}
        self.by_id: dict[int, Ended] = {}

    @classmethod
    def of(cls, instruments: Instruments, runs: Sequence[Closing]) -> EarlierRuns:
        """Read what is needed to judge some closed runs of a workshop."""
        ends = [run.ended_at for run in runs if run.ended_at]
        earlier = cls(instruments, min(ends), max(ends))
        earlier.read({run.stage for run in runs})
        return earlier

    def read(self, stages: Iterable[str], also: Collection[int] = ()) -> None:
        """Read the runs of stages that were not read yet, with some older ones of theirs."""
        wanted = sorted(set(stages) - self._ended.keys())
        if not wanted:
            return
        self._ended |= {stage: [] for stage in wanted}
        for one in _ended(self.instruments.workshop_id, wanted, (self.first, self.last), also):
            self._ended[one.stage].append(one)
            self.by_id[one.pk] = one

    def before(self, stage: str, moment: datetime) -> Sequence[Ended]:
        """Give the last runs of a stage that had ended before a moment, oldest first."""
        ended = self._ended[stage]
        end = bisect_left(ended, moment, key=lambda one: one.ended_at or moment)
        return ended[max(end - RUNS_KEPT, 0) : end]

    def usual(self, run: Closing) -> Usual:
        """Say what a closed run was expected to lose, by those of its stage that ended before."""
        assert run.ended_at is not None
        past = [one.past for one in self.before(run.stage, run.ended_at)]
        key = USUAL_KEY.format(run.stage)
        said = self.instruments.practice.get(key)
        share = said.value / 100 if said is not None and said.own else None
        return learn(past, str(run.machine_id or ""), run.polymer, first_for(run.stage, share))

    def closed(self, stage: str, moment: datetime) -> list[Closed]:
        """Give the same runs with all their figures."""
        if stage not in self._closed:
            self.read_figures([stage])
        ids = {one.pk for one in self.before(stage, moment)}
        return [one for one in self._closed[stage] if one.key in ids]

    def read_figures(self, stages: Iterable[str]) -> None:
        """Read the figures of the runs of stages, by one query for all of them."""
        wanted = [stage for stage in dict.fromkeys(stages) if stage not in self._closed]
        self.read(wanted)
        ended = [one for stage in wanted for one in self._ended[stage]]
        figures: dict[int, list[Typed]] = defaultdict(list)
        for run_id, side, form, mass_mg in _figures([one.pk for one in ended]) if ended else ():
            one = self.by_id[run_id]
            figures[run_id].append(Typed(None, side, kind_of(one, side, form), int(mass_mg)))
        self._closed |= {stage: [] for stage in wanted}
        for one in ended:
            closed = Closed(one.pk, one.stage, "", one.polymer, tuple(figures[one.pk]))
            self._closed[one.stage].append(closed)


def kind_of(run: Ended, side: str, form: str) -> Kind:
    """Say of which figures one is: of a weigh-in, of those from the same source."""
    return (run.stage, side, form, *((run.source,) if run.source else ()))


def _ended(
    workshop_id: int,
    stages: Sequence[str],
    between: tuple[datetime, datetime],
    also: Collection[int],
) -> list[Ended]:
    first, last = between
    back = Window(
        RowNumber(),
        partition_by=[F("stage"), Case(When(ended_at__lt=first, then=Value(1)), default=Value(0))],
        order_by=[F("ended_at").desc(), F("pk").desc()],
    )
    drawn = Draw.objects.filter(run_id=OuterRef("pk")).values("run_id")
    left = Posting.objects.filter(
        entry__process_id=OuterRef("pk"), account__kind=BORDER, account__name=UNACCOUNTED
    ).values("entry__process_id")
    wanted = Q(ended_at__gte=first) | Q(back__lte=RUNS_KEPT)
    if also:
        wanted |= Q(pk__in=also)
    rows = (
        Run.objects.filter(
            workshop_id=workshop_id, state=Run.CLOSED, stage__in=stages, ended_at__lte=last
        )
        .annotate(back=back)
        .filter(wanted)
        .annotate(
            drawn=Coalesce(Subquery(drawn.annotate(sum=Sum("mass_mg")).values("sum")), 0),
            left=Coalesce(Subquery(left.annotate(sum=Sum("mass_mg")).values("sum")), 0),
        )
        .values_list(
            "pk", "stage", "machine_id", "polymer", "ended_at", "origin__source", "drawn", "left"
        )
    )
    found = [
        Ended(pk, stage, machine, polymer, ended_at, str(source or ""), int(into), int(left))
        for pk, stage, machine, polymer, ended_at, source, into, left in rows
    ]
    return sorted(found, key=lambda one: (one.ended_at or last, one.pk))


def _figures(run_ids: Sequence[int]) -> Iterable[tuple[int, str, str, int]]:
    """Say what each run took in and gave: its key, the side, the form or loss, and the mass."""
    taken = Draw.objects.filter(run_id__in=run_ids, mass_mg__gt=0).values_list(
        "run_id", Value("in"), "lot__form", "mass_mg"
    )
    made = Lot.objects.filter(made_by_id__in=run_ids, made_mg__gt=0).values_list(
        "made_by_id", Value("out"), "form", "made_mg"
    )
    lost = (
        Posting.objects.filter(
            entry__process_id__in=run_ids, account__kind=BORDER, account__name__in=LOSSES
        )
        .values_list("entry__process_id", Value("out"), "account__name")
        .annotate(sum=Sum("mass_mg"))
        .filter(sum__gt=0)
    )
    return taken.union(made, lost, all=True)
