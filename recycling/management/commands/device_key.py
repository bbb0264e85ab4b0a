"""Give out a key for a script, a scale or a meter."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.queries.people.workshops import actor_called
from recycling.records.people import KeyEntry
from recycling.services.people.workshops import key_issue
from shared.errors import Refused
from shared.roles import RECORD, SCOPES


class Command(BaseCommand):
    """Print the key on standard output, this once; only its hash is kept."""

    help = "Print a new API key of a member, once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("workshop", metavar="WORKSHOP", help="short name of the workshop")
        parser.add_argument("member", metavar="MEMBER", help="the member's name, or sign-in name")
        parser.add_argument("--scope", choices=SCOPES, default=RECORD)
        parser.add_argument("--label", default="made on the command line")
        parser.add_argument("--days", type=int, default=365, help="how long it is valid")

    def handle(self, *args: Any, **options: Any) -> None:
        actor = actor_called(options["workshop"], options["member"])
        if actor is None:
            raise CommandError(
                f"There is no member “{options['member']}” in a workshop “{options['workshop']}”."
            )
        entry = KeyEntry(options["label"], options["scope"], options["days"])
        try:
            issued = key_issue(actor, entry)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        self.stderr.write(
            f"For {actor.name}, scope {issued.scope}, until {issued.expires_at:%Y-%m-%d}."
            " Shown this once:"
        )
        self.stdout.write(issued.secret)
