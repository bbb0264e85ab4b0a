"""Facts that go into an export besides the postings: runs, lots, origins."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from recycling.models import (
    ChangeEvent,
    Counted,
    Lot,
    Origin,
    Run,
    RunCheck,
    RunOperator,
    RunSetting,
)
from recycling.queries.exchange.energies import energies_of
from recycling.queries.lots.run_paths import in_chunks
from recycling.queries.people.consent import agreed
from recycling.records.exchange.exports import ExportLog, ExportLot, ExportOrigin, ExportRun
from recycling.stages import stage

TOLD_UNITS = frozenset({"°C", "h", "mm", "%", "1/min", "mm/s"})


def runs_of(
    workshop_id: int, run_ids: Sequence[int], events: bool, now: datetime
) -> dict[str, ExportRun]:
    """Show runs by code, in order of number; without `events` only who worked on them."""
    voided = _voided(workshop_id, run_ids) if events else {}
    logs, wheres = _logs(run_ids) if events else ({}, {})
    counted = _counted(run_ids) if events else {}
    energies = energies_of(workshop_id, run_ids, now) if events else {}
    roles = _roles(run_ids)
    found: dict[str, ExportRun] = {}
    for chunk in in_chunks(run_ids):
        rows = Run.objects.filter(pk__in=chunk).order_by("number")
        for pk, code, name, state, machine, started, ended, origin in rows.values_list(
            "pk", "code", "stage", "state", "machine_id", "started_at", "ended_at", "origin__code"
        ):
            found[code] = ExportRun(
                code=code,
                stage=name,
                state=state,
                machine=machine,
                started_at=started,
                ended_at=ended,
                voided_at=voided.get(code),
                origin=origin or "",
                destination=wheres.get(pk, ""),
                roles=tuple(sorted(roles.get(pk, ()))),
                logs=tuple(sorted(logs.get(pk, ()), key=lambda one: (one.at, one.key))),
                counted=tuple(counted.get(pk, ())),
                energies=energies.get(pk, ()),
            )
    return found


def _voided(workshop_id: int, run_ids: Iterable[int]) -> dict[str, datetime]:
    voided: dict[str, datetime] = {}
    for chunk in in_chunks(run_ids):
        codes = Run.objects.filter(pk__in=chunk, state=Run.VOID).values("code")
        rows = ChangeEvent.objects.filter(workshop_id=workshop_id, deed="void", subject__in=codes)
        voided |= dict(rows.values_list("subject", "written_at"))
    return voided


def _roles(run_ids: Iterable[int]) -> dict[int, set[str]]:
    roles: dict[int, set[str]] = defaultdict(set)
    for chunk in in_chunks(run_ids):
        rows = RunOperator.objects.filter(run_id__in=chunk)
        for run_id, role in rows.values_list("run_id", "member__role"):
            roles[run_id].add(role)
    return roles


def _counted(run_ids: Iterable[int]) -> dict[int, list[tuple[str, int]]]:
    counted: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for chunk in in_chunks(run_ids):
        rows = Counted.objects.filter(run_id__in=chunk).order_by("pk")
        for run_id, lot, mass_mg in rows.values_list("run_id", "lot__code", "mass_mg"):
            counted[run_id].append((lot, mass_mg))
    return counted


def _logs(run_ids: Iterable[int]) -> tuple[dict[int, list[ExportLog]], dict[int, str]]:
    logs: dict[int, list[ExportLog]] = defaultdict(list)
    wheres: dict[int, str] = {}
    for chunk in in_chunks(run_ids):
        for kind in (RunCheck, RunSetting):
            rows = kind.objects.filter(run_id__in=chunk).order_by("pk")
            for run_id, name, key, value, at in rows.values_list(
                "run_id", "run__stage", "key", "value", "happened_at"
            ):
                if key == "destination":
                    wheres[run_id] = value
                elif log := _log(name, key, value, at):
                    logs[run_id].append(log)
    return logs, wheres


def _log(stage_key: str, key: str, value: str, at: Any) -> ExportLog | None:
    declared = stage(stage_key)
    field = declared and (declared.check(key) or declared.setting(key))
    if not field or field.kind != "number" or field.unit not in TOLD_UNITS:
        return None
    try:
        return ExportLog(key, field.unit, float(value), at)
    except ValueError:
        return None


def lots_of(workshop_id: int, codes: Sequence[str]) -> dict[str, ExportLot]:
    """Show lots by code."""
    return {
        row[0]: ExportLot(*row[:6], row[6] is not None)
        for chunk in in_chunks(codes)
        for row in Lot.objects.filter(workshop_id=workshop_id, code__in=chunk)
        .order_by("number")
        .values_list("code", "form", "polymer", "colour", "role", "made_mg", "spool__lot_id")
    }


def origins_of(run_ids: Sequence[int]) -> dict[str, ExportOrigin]:
    """Show the origins that runs received; a source only where it agreed to be named."""
    found: dict[str, ExportOrigin] = {}
    for chunk in in_chunks(run_ids):
        rows = Origin.objects.filter(run__in=chunk).annotate(named=agreed("source"))
        for code, kind, named, *source in rows.order_by("number").values_list(
            "code", "kind", "named", "source", "source__kind", "source__name"
        ):
            found[code] = ExportOrigin(code, kind, *(source if named else ()))
    return found
