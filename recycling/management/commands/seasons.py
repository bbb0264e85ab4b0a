"""Say how often the search finds what spoilt the spools, in invented seasons."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.calc.suspects.season_figures import bands_of, seasons_of, share_of
from recycling.calc.suspects.seasons import PLANTED, Found, searched

WAYS = {"by feed order": True, "run-mixed": False}


class Command(BaseCommand):
    """Make seasons by chance, plant a cause in each or none, search, and print how it went."""

    help = (
        "Make invented seasons with a planted cause and without, search each by the shares that"
        " each spool really got and by run-mixed shares, and print how often the cause came first"
        " and among the first three, and how true the stated chances were. Same seed, same figures."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--count", type=int, default=200, help="seasons of each kind of cause")
        parser.add_argument("--seed", type=int, default=1, help="of the first season")

    def handle(self, *args: Any, **options: Any) -> None:
        count, seed = options["count"], options["seed"]
        if count < 1:
            raise CommandError("At least one season of each kind.")
        self.stdout.write(f"{count} seasons of each kind, seeds from {seed}")
        made = {kind: seasons_of(kind, count, seed) for kind in PLANTED}
        for way, in_order in WAYS.items():
            found = {
                kind: [searched(one, in_order) for one in seasons] for kind, seasons in made.items()
            }
            for kind, ones in found.items():
                self._line(f"{way}, {kind}", ones)
            every = [one for ones in found.values() for one in ones]
            self._line(f"{way}, all", every)
            for low, high, stated, true, lines in bands_of(every):
                self.stdout.write(
                    f"  stated {low:.1f} to {high:.1f}: {stated:.2f} stated, {true:.2f} true,"
                    f" {lines} lines"
                )
        nothing = [searched(one) for one in seasons_of("", count, seed)]
        self.stdout.write(f"nothing planted: none leads in {share_of(nothing, _none):.3f}")

    def _line(self, said: str, found: list[Found]) -> None:
        first = share_of(found, lambda one: one.rank == 1)
        three = share_of(found, lambda one: one.rank is not None and one.rank <= 3)
        self.stdout.write(f"{said}: first {first:.3f}, first three {three:.3f}")


def _none(one: Found) -> bool:
    return one.none_leads
