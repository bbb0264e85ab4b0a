"""How long a part may hold up other writers, and for how long they come first after it."""

from __future__ import annotations

import time

from recycling.models import ImportFile

PART_SECONDS, PAUSE_SECONDS = 0.8, 0.15


def pause(file: ImportFile, share: float) -> None:
    """Tell how far it is, and let others write before the next part."""
    ImportFile.objects.filter(pk=file.pk).update(done_share=share)
    time.sleep(PAUSE_SECONDS)
