"""Look files of energy through and take them."""

from __future__ import annotations

from celery import shared_task

from recycling.keeping.background import worked
from recycling.keeping.expired_files import drafts_clear
from recycling.services.energy.files import LOOK, TAKE, file_look, file_write


@shared_task(name=LOOK)
@worked
def energy_look(job_id: int) -> None:
    file_look(job_id)


@shared_task(name=TAKE)
@worked
def energy_take(job_id: int) -> None:
    file_write(job_id)


@shared_task(name="recycling.energy_drafts")
def energy_drafts() -> int:
    return drafts_clear()
