"""Put right what was noted of a run: who, when it began, checks, settings, times of refills."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Min
from django.utils import timezone

from recycling.calc.lots.feed_order import FEED_ORDER
from recycling.keeping.compositions import follow_up
from recycling.keeping.deed import deed
from recycling.keeping.facts import Facts, given_of, refuse_void
from recycling.keeping.lookups import check_moment, members_named, run_named
from recycling.keeping.noted import check_value
from recycling.keeping.prepared import stage_named
from recycling.keeping.runs import take_known_order
from recycling.keeping.texts import check_text, require_reason
from recycling.ledger.models import Entry
from recycling.models import Feed, Run, RunCheck, RunOperator, RunSetting
from recycling.records.actors import Actor
from recycling.records.runs.changes import FedChange, NotedChange, RunChange
from recycling.stages.declaration import Stage
from shared.errors import Collected
from shared.said import say

LONGEST_SEEN = 300
Row = RunCheck | RunSetting


@deed("correct")
def run_change(actor: Actor, code: str, change: RunChange) -> str:
    """Put right what was noted of a run; a check or setting that was wrong is superseded.

    Raises
    ------
    Refused
        With every problem of what is given, or when nothing changes.
    """
    reason, found = require_reason(change.reason), Collected()
    run = run_named(actor.workshop_id, code)
    refuse_void(run)
    facts = Facts(run.code)
    given = given_of(change, ("note", "started_at"))
    check_text(given.get("note", ""), "/note", found)
    _check_start(run, change.started_at, found)
    operators = members_named(actor.workshop_id, change.operators or (), "/operators", found)
    log = _Log(actor, run, stage_named(run.stage), facts, found)
    log.put_right("checks", change.checks)
    log.put_right("settings", change.settings)
    _move_feeds(run, change.feeds, facts, found)
    found.refuse()
    if change.operators is not None:
        _set_operators(run, [one.pk for one in operators], facts)
    facts.set(run, given)
    facts.keep(actor, reason)
    if change.feeds and run.state != Run.OPEN:
        take_known_order(run)
    if change.feeds and run.composition_model == FEED_ORDER:
        follow_up(actor.workshop_id, [run.pk])
    return run.code


def _check_start(run: Run, started_at: datetime | None, found: Collected) -> None:
    if started_at is None:
        return
    check_moment(started_at, "/started_at", found)
    if run.origin_id or stage_named(run.stage).counts:
        found.add("start-follows", "This happened at one moment; correct when it was.")
        return
    posted = Entry.objects.filter(process_id=run.pk).aggregate(first=Min("happened_at"))["first"]
    first = min(filter(None, (posted, run.ended_at)), default=None)
    if not found.any and first is not None and started_at > first:
        found.add(
            "end-before-start", "Something of this run happened before that start.", "/started_at"
        )


def _set_operators(run: Run, wanted: Sequence[int], facts: Facts) -> None:
    """Keep who worked; in the history stand references, so that a name can be erased."""
    rows = RunOperator.objects.filter(run=run).order_by("member_id")
    before = list(rows.values_list("member__reference", flat=True))
    known = set(rows.values_list("member_id", flat=True))
    rows.exclude(member_id__in=wanted).delete()
    RunOperator.objects.bulk_create(
        RunOperator(run=run, member_id=pk) for pk in wanted if pk not in known
    )
    after = list(rows.values_list("member__reference", flat=True))
    facts.note("operators", " ".join(map(str, before)), " ".join(map(str, after)))


def _move_feeds(run: Run, changes: Sequence[FedChange], facts: Facts, found: Collected) -> None:
    feeds = {feed.pk: feed for feed in Feed.objects.filter(run=run).select_related("lot")}
    for place, change in enumerate(changes):
        pointer, feed = f"/feeds/{place}", feeds.get(change.fed)
        check_moment(change.at, f"{pointer}/at", found)
        if feed is None:
            found.add("noted-unknown", "This run has no such refill.", f"{pointer}/fed")
        elif facts.note(f"fed {feed.lot.code}", feed.happened_at, change.at) and not found.any:
            feed.happened_at = change.at
            feed.save(update_fields=["happened_at"])


class _Log:
    """The checks and settings of a run while they are put right."""

    def __init__(
        self, actor: Actor, run: Run, declared: Stage, facts: Facts, found: Collected
    ) -> None:
        self.actor, self.run, self.declared = actor, run, declared
        self.facts, self.found = facts, found
        self.now = timezone.now()

    def put_right(self, what: str, changes: Sequence[NotedChange]) -> None:
        """Supersede what was noted wrongly, take out what was not, add what was forgotten."""
        kind: type[Row] = RunCheck if what == "checks" else RunSetting
        rows = {row.pk: row for row in kind.objects.filter(run=self.run)}
        for place, change in enumerate(changes):
            pointer = f"/{what}/{place}"
            row = rows.get(change.noted)
            if change.noted and row is None:
                self.found.add("noted-unknown", "This run has no such note.", f"{pointer}/noted")
            elif row is not None and not change.happened:
                self._take_out(row, rows.values(), pointer)
            else:
                self._write(kind, row, change, pointer)

    def _take_out(self, row: Row, rows: Sequence[Row] | object, pointer: str) -> None:
        field = self.declared.check(row.key)
        if isinstance(row, RunCheck) and field is not None and field.required:
            others = RunCheck.objects.filter(run=self.run, key=row.key).exclude(pk=row.pk)
            if not others.exists():
                text = say("{field} is needed.", field=field.label)
                self.found.add("value-missing", text, f"{pointer}/happened")
        self.facts.note(row.key, row.value, None)
        self._supersede(row)

    def _supersede(self, row: Row) -> None:
        row.superseded_at = self.now
        row.save(update_fields=["superseded_at"])

    def _write(self, kind: type[Row], row: Row | None, change: NotedChange, pointer: str) -> None:
        key = row.key if row else change.key
        declared = self.declared.check(key) if kind is RunCheck else self.declared.setting(key)
        was_value, was_at = (row.value, row.happened_at) if row else ("", None)
        value = was_value if change.value is None else change.value.strip()
        at = change.at or was_at or self.run.ended_at or self.run.started_at
        within = check_value(declared, value, pointer, self.found)
        check_moment(at, f"{pointer}/at", self.found)
        seen = self._seen(row, change)
        check_text(seen, f"{pointer}/seen", self.found, LONGEST_SEEN)
        told = [self.facts.note(key, was_value, value)]
        if row is not None:
            told.append(self.facts.note(f"{key}, when", was_at, at))
        if isinstance(row, RunSetting):
            told.append(self.facts.note(f"{key}, seen", row.seen, seen))
        if self.found.any or not any(told):
            return
        if row is not None:
            self._supersede(row)
        kind.objects.create(
            run=self.run,
            key=key,
            value=value,
            happened_at=at,
            written_at=self.now,
            actor=self.actor.reference,
            **({"within": within} if kind is RunCheck else {"seen": seen}),
        )

    def _seen(self, row: Row | None, change: NotedChange) -> str:
        if change.seen is not None:
            return change.seen.strip()
        return row.seen if isinstance(row, RunSetting) else ""
