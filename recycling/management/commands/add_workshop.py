"""Open a workshop with its first lead."""

from __future__ import annotations

import getpass
import os
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.records.people import WorkshopEntry
from recycling.services.people.workshops import workshop_open
from shared.errors import Refused


class Command(BaseCommand):
    """Ask for the lead's password unless the environment has it."""

    help = (
        "Open a workshop with an empty book. The lead's password is asked for, or taken from"
        " the environment variable LEAD_PASSWORD; somebody who has an account keeps theirs."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("slug", metavar="SLUG", help="short name, as in addresses")
        parser.add_argument("name", metavar="NAME", help="name of the workshop")
        parser.add_argument("lead", metavar="LEAD", help="name of its first lead")
        parser.add_argument("username", metavar="USERNAME", help="how the lead signs in")
        parser.add_argument("--zone", default="UTC", help="time zone such as Europe/Lisbon")

    def handle(self, *args: Any, **options: Any) -> None:
        password = os.environ.get("LEAD_PASSWORD") or getpass.getpass("Password of the lead: ")
        entry = WorkshopEntry(
            name=options["name"],
            slug=options["slug"],
            lead_name=options["lead"],
            username=options["username"],
            password=password,
            zone=options["zone"],
        )
        try:
            actor = workshop_open(entry)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(
            f"{actor.workshop} is open at /w/{actor.slug}/; {actor.name} is its lead."
        )
