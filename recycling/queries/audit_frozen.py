"""The audit of what is frozen: reports, their files and findings still have their digests."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from recycling.models import FrozenReport, KeptFinding, Report, ReportFile
from recycling.queries.frozen import digest_of_body
from recycling.records.setting_up import Finding
from recycling.tables.documents_json import digest_of_text

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
