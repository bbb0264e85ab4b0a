"""The audit of what is frozen: reports, their files and findings still have their digests.

The audit: all that is stored for speed, compared with what the postings say.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterator
from graphlib import CycleError

from django.db import connection
from django.db.models import F, Sum

from recycling.calc.lots.composition import TRACES, Composition
from recycling.calc.lots.recomposition import RunMasses, recompose
from recycling.ledger import guards
from recycling.ledger.models import LOT, PROCESS, Account, Entry, Posting
from recycling.ledger.snapshots import snapshot
from recycling.models import Composition as Part
from recycling.models import Draw, FrozenReport, KeptFinding, Lot, Report, ReportFile, Run, Workshop
from recycling.queries.integrity.audit_waiting import waiting_findings
from recycling.queries.lots.deviations import fresh_deviations, kept_departures
from recycling.queries.runs.feed_order import came_back, feed_logs
from recycling.queries.suspects.finding_text import digest_of_body
from recycling.records.setup.register import Finding
from recycling.stages import COUNTING
from recycling.stages.declaration import RETURNED
from recycling.tables.reports.json_file import digest_of_text
from shared.units import show_mass

CHANGED = "Its data no longer have the SHA-256 that was taken when it was frozen."


def frozen_findings(workshop_id: int) -> Iterator[Finding]:
    """Name each frozen thing that is not what it was; one is read at a time."""
    ready = Report.objects.filter(workshop_id=workshop_id, state=Report.READY)
    for code in ready.filter(frozen=None).order_by("number").values_list("code", flat=True):
        yield Finding(7, f"report {code}", "It was frozen, and what it said is gone.")
    frozen = FrozenReport.objects.filter(workshop_id=workshop_id).order_by("number")
    rows = frozen.values_list("report__code", "digest", "body")
    for code, digest, body in rows.iterator(chunk_size=1):
        if digest_of_text(body) != digest:
            yield Finding(7, f"report {code}", CHANGED)
    files = ReportFile.objects.filter(frozen__workshop_id=workshop_id).order_by("pk")
    for name, digest, held in files.values_list("name", "digest", "held").iterator(chunk_size=1):
        if hashlib.sha256(held).hexdigest() != digest:
            yield Finding(7, name, CHANGED)
    kept = KeptFinding.objects.filter(workshop_id=workshop_id).order_by("number")
    for number, digest, body in kept.values_list("number", "digest", "body").iterator(chunk_size=1):
        if digest_of_body(body) != digest:
            yield Finding(7, f"finding {number}", CHANGED)


Nets = dict[tuple[int, int], int]


def audit_all() -> dict[str, list[Finding]]:
    """Audit every workshop; the database's guards are checked under the first."""
    workshops = Workshop.objects.order_by("pk").values_list("slug", "pk")
    return {slug: audit(workshop_id) for slug, workshop_id in workshops}


def audit(workshop_id: int) -> list[Finding]:
    """Check the invariants of the book at one moment; an empty list means that all hold."""
    with snapshot():
        return _findings(workshop_id)


def _findings(workshop_id: int) -> list[Finding]:
    nets = _nets(workshop_id)
    return [
        *_guards(),
        *_entries(workshop_id),
        *_accounts(workshop_id),
        *_histories(workshop_id),
        *_runs(workshop_id),
        *_draws_and_lots(workshop_id, nets),
        *_compositions(workshop_id, nets),
        *waiting_findings(workshop_id),
        *_deviations(workshop_id),
        *_strangers(workshop_id),
        *frozen_findings(workshop_id),
    ]


def _guards() -> Iterator[Finding]:
    for name in sorted(guards.missing(connection)):
        yield Finding(5, name, "This guard does not stand in the database.")


def _entries(workshop_id: int) -> Iterator[Finding]:
    sums = Posting.objects.filter(entry__book_id=workshop_id).values_list("entry_id").order_by()
    for entry_id, mass_mg in sums.annotate(left=Sum("mass_mg")).exclude(left=0):
        yield Finding(1, f"entry {entry_id}", f"Its postings add up to {show_mass(mass_mg)}.")
    numbers = Entry.objects.filter(book_id=workshop_id).order_by("sequence")
    for place, sequence in enumerate(numbers.values_list("sequence", flat=True), 1):
        if place != sequence:
            yield Finding(5, f"entry {place}", "Its number is missing from the book.")
            return


def _accounts(workshop_id: int) -> Iterator[Finding]:
    accounts = Account.objects.filter(book_id=workshop_id).annotate(posted=Sum("postings__mass_mg"))
    for account in accounts.select_related("lot", "run").order_by("pk"):
        posted = account.posted or 0
        if account.balance_mg != posted:
            yield Finding(
                10,
                _name(account),
                f"Stored {show_mass(account.balance_mg)}, posted {show_mass(posted)}.",
            )
    total = accounts.aggregate(sum=Sum("balance_mg"))["sum"] or 0
    if total:
        yield Finding(9, "all accounts", f"They add up to {show_mass(total)}, not to zero.")


def _name(account: Account) -> str:
    if account.kind == LOT:
        return f"lot {account.lot.code}" if hasattr(account, "lot") else f"lot {account.pk}"
    if account.kind == PROCESS:
        return f"run {account.run.code}" if hasattr(account, "run") else f"run {account.pk}"
    return f"{account.name} of {account.commodity}"


def _histories(workshop_id: int) -> Iterator[Finding]:
    rows = (
        Posting.objects.filter(account__book_id=workshop_id, account__kind=LOT)
        .order_by("account_id", "entry__happened_at")
        .values_list("account_id", "entry__happened_at", "account__lot__code")
        .annotate(Sum("mass_mg"))
    )
    mass, lot = 0, None
    for account_id, moment, code, moved in rows:
        mass = moved if account_id != lot else mass + moved
        lot = account_id
        if mass < 0:
            yield Finding(2, f"lot {code}", f"{show_mass(mass)} at {moment:%Y-%m-%d %H:%M} UTC.")


def _runs(workshop_id: int) -> Iterator[Finding]:
    done = Run.objects.filter(workshop_id=workshop_id).exclude(state=Run.OPEN)
    for code, mass_mg in done.exclude(account__balance_mg=0).values_list(
        "code", "account__balance_mg"
    ):
        yield Finding(1, f"run {code}", f"Closed with {show_mass(mass_mg)} still in process.")


def _nets(workshop_id: int) -> Nets:
    rows = (
        Posting.objects.filter(account__book_id=workshop_id, account__kind=LOT)
        .values_list("entry__process_id", "account_id")
        .order_by()
        .annotate(Sum("mass_mg"))
    )
    return {(run_id, lot_id): mass_mg for run_id, lot_id, mass_mg in rows}


def _draws_and_lots(workshop_id: int, nets: Nets) -> Iterator[Finding]:
    draws = Draw.objects.filter(run__workshop_id=workshop_id)
    stored = {
        (run_id, lot_id): mass_mg
        for run_id, lot_id, mass_mg in draws.values_list("run_id", "lot_id", "mass_mg")
    }
    lots = {
        lot_id: (code, run_id, made_mg)
        for lot_id, code, run_id, made_mg in Lot.objects.filter(
            workshop_id=workshop_id
        ).values_list("pk", "code", "made_by_id", "made_mg")
    }
    for lot_id, (code, run_id, made_mg) in lots.items():
        posted = nets.get((run_id, lot_id), 0)
        if posted != made_mg:
            yield Finding(
                10, f"lot {code}", f"Made {show_mass(made_mg)}, posted {show_mass(posted)}."
            )
    counts = _count_runs(workshop_id)
    for key in stored.keys() | nets.keys():
        run_id, lot_id = key
        if lot_id not in lots or lots[lot_id][1] == run_id or run_id in counts:
            continue
        drawn, posted = stored.get(key, 0), -nets.get(key, 0)
        if drawn != posted:
            yield Finding(
                10,
                f"lot {lots[lot_id][0]}",
                f"A run's draw is stored as {show_mass(drawn)}, posted {show_mass(posted)}.",
            )


def _count_runs(workshop_id: int) -> set[int]:
    runs = Run.objects.filter(workshop_id=workshop_id, stage__in=COUNTING)
    return set(runs.values_list("pk", flat=True))


def _compositions(workshop_id: int, nets: Nets) -> Iterator[Finding]:
    lots = list(
        Lot.objects.filter(workshop_id=workshop_id)
        .order_by("pk")
        .values_list("pk", "code", "made_by_id", "made_mg", "origin_id", "traces_mg", "stale")
    )
    codes = {row[0]: row[1] for row in lots}
    stored = _stored(workshop_id, lots)
    floor_ppm = Workshop.objects.values_list("trace_floor_ppm", flat=True).get(pk=workshop_id)
    try:
        fresh = recompose(_masses(workshop_id, lots, nets), {}, floor_ppm)
    except CycleError as error:
        yield Finding(3, f"runs {error.args[1]}", "These runs draw on what they gave.")
        return
    for lot_id, _, _, made_mg, _, _, stale in lots:
        if stale:
            continue
        parts = stored.get(lot_id, {})
        if sum(parts.values()) != made_mg:
            yield Finding(
                4,
                f"lot {codes[lot_id]}",
                f"Its origins add up to {show_mass(sum(parts.values()))}, not to its mass of"
                f" {show_mass(made_mg)}.",
            )
        elif parts != fresh.get(lot_id, {}):
            yield Finding(10, f"lot {codes[lot_id]}", "Its origins differ from the postings.")


def _deviations(workshop_id: int) -> Iterator[Finding]:
    runs = Run.objects.filter(workshop_id=workshop_id).exclude(outputs__stale=True)
    codes = dict(runs.order_by("number").values_list("pk", "code"))
    kept = kept_departures(codes)
    for run_id, fresh in fresh_deviations(workshop_id, codes).items():
        if fresh != kept.get(run_id, []):
            yield Finding(10, f"run {codes[run_id]}", "Its deviations differ from what is kept.")


def _stored(workshop_id: int, lots: list[tuple]) -> dict[int, Composition]:
    stored: dict[int, Composition] = defaultdict(dict)
    parts = Part.objects.filter(lot__workshop_id=workshop_id)
    for lot_id, origin_id, mass_mg in parts.values_list("lot_id", "origin_id", "mass_mg"):
        stored[lot_id][origin_id] = mass_mg
    for row in lots:
        if row[5]:
            stored[row[0]][TRACES] = row[5]
    return stored


def _masses(workshop_id: int, lots: list[tuple], nets: Nets) -> dict[int, RunMasses]:
    makers = {row[0]: row[2] for row in lots}
    order = Draw.objects.filter(run__workshop_id=workshop_id).order_by("pk")
    draws: dict[int, list[tuple[int, int]]] = defaultdict(list)
    counts = _count_runs(workshop_id)
    keys = list(dict.fromkeys([*order.values_list("run_id", "lot_id"), *nets]))
    for run_id, lot_id in keys:
        mass_mg = -nets.get((run_id, lot_id), 0)
        if mass_mg > 0 and makers.get(lot_id) != run_id and run_id not in counts:
            draws[run_id].append((lot_id, mass_mg))
    outputs: dict[int, list[tuple[int, int, int | None]]] = defaultdict(list)
    for lot_id, _, run_id, _, origin_id, _, _ in lots:
        outputs[run_id].append((lot_id, nets.get((run_id, lot_id), 0), origin_id))
    logs = feed_logs(workshop_id)
    given = Lot.objects.filter(workshop_id=workshop_id, role=RETURNED)
    back = came_back(set(given.values_list("made_by_id", "pk")))
    return {
        run_id: RunMasses(
            tuple(draws[run_id]), tuple(outputs[run_id]), logs.get(run_id), *back(run_id)
        )
        for run_id in draws.keys() | outputs.keys()
    }


def _strangers(workshop_id: int) -> Iterator[Finding]:
    draws = Draw.objects.filter(run__workshop_id=workshop_id).exclude(
        lot__workshop_id=F("run__workshop_id")
    )
    parts = Part.objects.filter(lot__workshop_id=workshop_id).exclude(
        origin__workshop_id=F("lot__workshop_id")
    )
    postings = Posting.objects.filter(entry__book_id=workshop_id).exclude(
        account__book_id=workshop_id
    )
    for name, rows in (("draws", draws), ("compositions", parts), ("postings", postings)):
        if rows.exists():
            yield Finding(8, name, "Some of these reach into another workshop.")
