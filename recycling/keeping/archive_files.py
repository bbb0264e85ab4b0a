"""Files of archives that have expired: cleared away."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.utils import timezone

from recycling.models import WorkshopArchive
from recycling.queries.kept_archives import archive_place


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
