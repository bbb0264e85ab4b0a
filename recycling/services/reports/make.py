"""Make a report that was asked for: read it in one snapshot, write its files, freeze it."""

from __future__ import annotations

import hashlib
from functools import partial

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import override

from recycling.keeping.background import failures_told, job_done, job_waiting, refuse_spent
from recycling.ledger.snapshots import snapshot
from recycling.models import FrozenReport, Job, Report, ReportFile
from recycling.records.reports import files as frozen
from recycling.reports.asked import reader_of
from recycling.reports.content import document_of
from recycling.reports.frozen_files import file_name, files_of
from recycling.tables.reports.json_file import digest_of_text, json_of, read_question


def report_make(job_id: int) -> bool:
    """Do the work of a job; one that is done or gone is left. Returns whether it was done now.

    Raises
    ------
    OperationalError, InterfaceError, Unavailable
        When the database is away; the job stays and is sent again.
    """
    job = job_waiting(job_id)
    report = job and Report.objects.filter(pk=job.arguments["report"]).first()
    if job is None or not report:
        return False
    if report.state != Report.MAKING:
        job_done(job)
        return False
    broke = _("Something broke on our side while it was made. Ask for it again.")
    with (
        failures_told(partial(_fail, job, report), broke, report=report.code),
        override(report.language),
    ):
        refuse_spent(job)
        return _make(job, report)
    return True


def _make(job: Job, report: Report) -> bool:
    question = read_question(report.question)
    _progress(job, report, "reading", 0.1)
    with snapshot():
        document = document_of(reader_of(report.workshop), question)
    before = report.supersedes.code if report.supersedes else ""
    made = frozen.FrozenReport(
        report.code, report.number, timezone.now(), before, question, document
    )
    body = json_of(made)
    _progress(job, report, "files", 0.5)
    files = files_of(body)
    _progress(job, report, "files", 0.9)
    with transaction.atomic():
        asked = Report.objects.select_for_update().get(pk=report.pk)
        if asked.state != Report.MAKING:
            return False
        _freeze(made, body, files, asked)
        asked.state, asked.step, asked.done_share = Report.READY, "done", 1.0
        asked.save(update_fields=["state", "step", "done_share"])
        job_done(job)
    return True


def _freeze(made: frozen.FrozenReport, body: str, files: dict[str, bytes], report: Report) -> None:
    kept = FrozenReport.objects.create(
        report=report,
        workshop_id=report.workshop_id,
        number=report.number,
        sequence=made.document.sequence,
        frozen_at=made.frozen_at,
        title=made.document.title[:500],
        body=body,
        digest=digest_of_text(body),
    )
    ReportFile.objects.bulk_create(
        ReportFile(
            frozen=kept,
            kind=kind,
            name=file_name(made, kind),
            held=held,
            size_bytes=len(held),
            digest=hashlib.sha256(held).hexdigest(),
        )
        for kind, held in files.items()
    )


def _progress(job: Job, report: Report, step: str, share: float) -> None:
    Report.objects.filter(pk=report.pk).update(step=step, done_share=share)
    Job.objects.filter(pk=job.pk).update(done_share=share)


def _fail(job: Job, report: Report, why: str) -> None:
    with transaction.atomic():
        Report.objects.filter(pk=report.pk, state=Report.MAKING).update(
            state=Report.FAILED, step="done", done_share=1.0, failure=why[:500]
        )
        job_done(job)
