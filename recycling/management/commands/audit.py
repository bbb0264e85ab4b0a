"""Check the invariants of the book and name what breaks one."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.queries.integrity.audit import audit
from recycling.queries.people.workshops import workshop_id_of, workshop_ids
from shared.errors import Refused


class Command(BaseCommand):
    """Print every finding; the exit status is 1 when there are any."""

    help = "Compare all that is stored for speed with the postings; exits 1 when anything differs."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--workshop", metavar="SLUG", help="default: every workshop")

    def handle(self, *args: Any, **options: Any) -> None:
        slug = options["workshop"]
        try:
            wanted = {slug: workshop_id_of(slug)} if slug else workshop_ids()
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        count = 0
        for name, workshop_id in wanted.items():
            findings = audit(workshop_id)
            count += len(findings)
            self.stdout.write(f"{name}: {len(findings) or 'no'} findings")
            for finding in findings:
                self.stdout.write(
                    f"  invariant {finding.invariant}, {finding.subject}: {finding.detail}"
                )
        if count:
            sys.exit(1)
