"""Turn a person's second step at sign-in off, where no lead is left who could."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.services.people.second_step import second_step_lift
from shared.errors import Refused


class Command(BaseCommand):
    """Turn it off by the sign-in name; the history of the person's workshops says so."""

    help = "Turn the second step of a sign-in name off."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username", metavar="USERNAME", help="the name somebody signs in with")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            second_step_lift(options["username"])
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        self.stderr.write(f"The password of “{options['username']}” alone signs in now.")
