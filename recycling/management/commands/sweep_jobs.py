"""Send jobs again that were not finished; clear away what was brought and never taken."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from recycling.tasks import clear_archives, energy_drafts, sweep_jobs


class Command(BaseCommand):
    """Say how many jobs were sent."""

    help = "Send unfinished jobs again, clear old drafts away; for use without a worker's timer."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{sweep_jobs()} jobs sent again")
        self.stdout.write(f"{energy_drafts()} files of energy that nobody took cleared away")
        self.stdout.write(f"{clear_archives()} files of archives cleared away")
