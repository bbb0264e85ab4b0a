"""What waits at the bench: who gave lately, dried lots that lie open, and what runs wait for."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Max
from django.utils import timezone

from recycling.calc.process import drying
from recycling.ledger.sql import among, moment, rows
from recycling.models import Lot, Origin, Run
from recycling.queries.process.drying_facts import Drying, stretches_open
from recycling.queries.setup.practice import material_over, practice_over
from recycling.records.actors import Actor
from recycling.records.planning import DriedLot, RunDue
from recycling.records.setup.practice import MaterialRow
from recycling.stages import DRYING, stage

RECENT = 5
Noted = dict[tuple[int, str], str]
_SAID = """
SELECT 'check', run_id, id, key, value,
       CAST(NULL AS timestamp with time zone), CAST(NULL AS double precision)
  FROM recycling_runcheck WHERE superseded_at IS NULL AND {checked}
UNION ALL
SELECT 'set', run_id, id, key, value, happened_at, NULL
  FROM recycling_runsetting WHERE superseded_at IS NULL AND {running}
UNION ALL
SELECT 'event', lot_id, id, kind, '', happened_at, NULL
  FROM recycling_lotevent WHERE kind IN ('sealed', 'opened') AND {lying}
UNION ALL
SELECT 'practice', 0, id, key, source, NULL, value FROM recycling_practice WHERE workshop_id = %s
UNION ALL
SELECT kind, 0, id, polymer, CAST("values" AS varchar(500)), NULL, NULL
  FROM recycling_materialdata WHERE workshop_id = %s AND kind IN ('limits', 'drying')
ORDER BY 6, 3
"""


MOST_LOOKED_AT = 500
"""Collections whose programme is looked at, the newest."""


def recent_sources(actor: Actor) -> list[str]:
    """Name who gave last, the latest first."""
    given = Origin.objects.filter(workshop_id=actor.workshop_id, kind=Origin.COLLECTION)
    latest = given.exclude(source=None).values("source__name").annotate(last=Max("happened_at"))
    return [one["source__name"] for one in latest.order_by("-last", "source__name")[:RECENT]]


def last_programmes(actor: Actor) -> dict[str, str]:
    """Name for each giver the programme of their last collection that had one."""
    given = Origin.objects.filter(workshop_id=actor.workshop_id, kind=Origin.COLLECTION)
    known = given.exclude(source=None).exclude(programme=None).order_by("-happened_at")
    rows = list(known.values_list("source__name", "programme__name")[:MOST_LOOKED_AT])
    return dict(reversed(rows))


def dried_lots(
    workshop_id: int, codes: Sequence[str] = (), at: datetime | None = None
) -> list[DriedLot]:
    """List dried lots on hand, or some by their codes, with how long they were open till then."""
    return waits_of(workshop_id, (), codes, at)[1]


def waits_of(
    workshop_id: int,
    runs: Sequence[Run],
    codes: Sequence[str] = (),
    till: datetime | None = None,
) -> tuple[dict[str, RunDue], list[DriedLot]]:
    """Say what open runs wait for, and which dried lots wait, in two queries however many.

    Lots that lie open come first, the one that was dried first before the others.
    """
    lots = _dried(workshop_id, codes)
    if not (runs or lots):
        return {}, []
    said = _said(workshop_id, runs, lots)
    noted: Noted = {(run, key): value for run, key, value, _, _ in said["check"]}
    rules = practice_over((key, value, source) for _, key, source, _, value in said["practice"])
    settings: dict[int, list[tuple[str, datetime, str]]] = defaultdict(list)
    for run_id, key, value, at, _ in said["set"]:
        settings[run_id].append((key, moment(at), value))
    now, limit_h = till or timezone.now(), rules["open_limit_h"].value
    recipes = material_over(
        "drying", ((key, json.loads(text), "") for _, key, text, _, _ in said["drying"])
    )
    due = {
        run.code: _due(
            run, settings[run.pk], noted, rules["wait_min"].value, recipes.get(run.polymer), now
        )
        for run in runs
    }
    changes: dict[int, list[tuple[datetime, str]]] = defaultdict(list)
    for lot, kind, _, at, _ in said["event"]:
        changes[lot].append((moment(at), kind))
    thirsty = _takes_up_water((key, json.loads(text)) for _, key, text, _, _ in said["limits"])
    found = [
        _open(lot, noted, changes[lot.pk], limit_h, now) for lot in lots if thirsty(lot.polymer)
    ]
    return due, sorted(found, key=lambda row: row.sealed)


def _takes_up_water(own: Iterable[tuple[str, dict[str, float]]]) -> Callable[[str], bool]:
    """Say of which polymers dried lots are watched: of all but those that take up no water."""
    limits = material_over("limits", ((*one, "") for one in own))

    def thirsty(polymer: str) -> bool:
        return polymer not in limits or bool(limits[polymer].values.get("hygroscopic", True))

    return thirsty


def _dried(workshop_id: int, codes: Sequence[str]) -> list[Lot]:
    lots = Lot.objects.filter(
        workshop_id=workshop_id,
        made_by__stage__in=DRYING,
        made_by__state=Run.CLOSED,
    )
    lots = lots.filter(code__in=codes) if codes else lots.filter(account__balance_mg__gt=0)
    return list(lots.select_related("made_by", "account").order_by("made_by__ended_at", "number"))


def _said(
    workshop_id: int, runs: Sequence[Run], lots: Sequence[Lot]
) -> dict[str, list[tuple[Any, ...]]]:
    """Read checks, settings, events of lots and the workshop's practice, in order of time."""
    running = [run.pk for run in runs]
    checked, checked_ids = among("run_id", running + [lot.made_by_id for lot in lots])
    set_in, running_ids = among("run_id", running)
    lying, lot_ids = among("lot_id", [lot.pk for lot in lots])
    statement = _SAID.format(checked=checked, running=set_in, lying=lying)
    found: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    given = [checked_ids, running_ids, lot_ids, workshop_id, workshop_id]
    for kind, about, _, *said in rows(statement, given):
        found[kind].append((about, *said))
    return found


def _open(
    lot: Lot,
    noted: Noted,
    changes: list[tuple[datetime, str]],
    limit_h: float,
    now: datetime,
) -> DriedLot:
    ended_at = lot.made_by.ended_at or now
    sealed = noted.get((lot.made_by_id, "kept")) == "sealed"
    stretches = stretches_open(ended_at, now, changes, sealed)
    past = [kind for moment, kind in changes if moment <= now]
    return DriedLot(
        lot=lot.code,
        form=lot.form,
        polymer=lot.polymer,
        mass_mg=lot.account.balance_mg,
        dried_at=ended_at,
        sealed=past[-1] == "sealed" if past else sealed,
        open_h=drying.open_check(stretches, limit_h).open_h,
        limit_h=limit_h,
        asked_at=now,
    )


def _due(
    run: Run,
    settings: Sequence[tuple[str, datetime, str]],
    noted: Noted,
    minutes: float,
    recipe: MaterialRow | None,
    now: datetime,
) -> RunDue:
    declared = stage(run.stage)
    key, changed_at, _ = settings[-1] if settings else ("", None, "")
    checks = declared.checks if declared else ()
    labels = {one.key: one.label for one in declared.settings} if declared else {}
    return RunDue(
        run=run.code,
        wait_until=changed_at + timedelta(minutes=minutes) if changed_at else None,
        label=labels.get(key, key),
        checks=tuple(
            one.label for one in checks if one.required and (run.pk, one.key) not in noted
        ),
        ready_at=Drying(run.polymer, now, {}, settings).ready_at(recipe)
        if run.stage in DRYING
        else None,
    )
