"""Files of archives that have expired: cleared away.

Files of energy that nobody took: cleared away after a set time.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from recycling.keeping.energy_files import place_of
from recycling.models import EnergyFile, WorkshopArchive
from recycling.queries.integrity.archives import archive_place
from shared.said import say


def archives_clear() -> int:
    """Clear away files that have expired, and what stands for no archive; return how many."""
    folder = Path(settings.DATA_DIR) / "archives"
    kept = {
        archive_place(one)
        for one in WorkshopArchive.objects.filter(
            state=WorkshopArchive.READY, expires_at__gt=timezone.now()
        )
    }
    making = set(
        WorkshopArchive.objects.filter(state=WorkshopArchive.MAKING).values_list("token", flat=True)
    )
    old = [
        path
        for path in folder.glob("*.zip*")
        if path not in kept and path.name.partition("-")[2][:32] not in making
    ]
    for path in old:
        path.unlink(missing_ok=True)
    return len(old)


WAITING = (EnergyFile.LOOKED, EnergyFile.FAILED)


def drafts_clear() -> int:
    """Clear files away that lie longer than ``ENERGY_DRAFT_DAYS``; return how many.

    Their rows stay and say why. One that is being looked through or taken is left alone.
    """
    days = settings.ENERGY_DRAFT_DAYS
    before = timezone.now() - timedelta(days=days)
    cleared = 0
    waiting = EnergyFile.objects.filter(state__in=WAITING, brought_at__lt=before)
    for file in waiting:
        place = place_of(file.digest, file.workshop_id)
        if place.exists():
            why = say("nobody took it within {days} days: bring it again", days=days)
            EnergyFile.objects.filter(pk=file.pk, state=file.state).update(
                state=EnergyFile.FAILED, failure=str(why), preview={}
            )
            place.unlink(missing_ok=True)
            cleared += 1
    return cleared + _orphans(before.timestamp())


def _orphans(before: float) -> int:
    """Clear away what no file of the book stands for: uploads that broke off."""
    folder = place_of("", 0).parent
    kept = {
        place_of(digest, workshop)
        for digest, workshop in EnergyFile.objects.exclude(state=EnergyFile.TAKEN).values_list(
            "digest", "workshop_id"
        )
    }
    lying: list[Path] = [*folder.glob("*.csv"), *folder.glob("draft-*")]
    old = [one for one in lying if one not in kept and one.stat().st_mtime < before]
    for one in old:
        one.unlink(missing_ok=True)
    return len(old)
