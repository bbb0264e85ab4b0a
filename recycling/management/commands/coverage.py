"""Say how often the truth lies within what the book states, over invented periods."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.calc.reports.coverage_simulation import BOTTLES, coverage

LOW, HIGH = 0.93, 0.97
LOW_OF_ONE, HIGH_OF_ONE = 0.92, 0.985
"""Bounds for each figure over all periods, and for each size of the sample of bottles."""


class Command(BaseCommand):
    """Print coverage by figure; fails where one is out of bounds."""

    help = (
        "Invent periods of a workshop, work out their figures by the functions of the book, and"
        " print how often the truth lies within each stated half-interval."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--periods", type=int, default=4000, help="how many, 4000 by default")
        parser.add_argument("--seed", type=int, default=1, help="of chance, 1 by default")

    def handle(self, *args: Any, periods: int, seed: int, **options: Any) -> None:
        if periods < len(BOTTLES):
            raise CommandError(f"At least {len(BOTTLES)} periods are needed.")
        heads = "".join(f"{bottles:>7}" for bottles in BOTTLES)
        self.stdout.write(f"{periods} periods, seed {seed}; percent within ±, by bottles weighed\n")
        self.stdout.write(f"{'figure':34}{'all':>7}{'mean k':>8}{heads}\n")
        wrong = []
        for row in coverage(periods, seed):
            sizes = "".join(f"{100 * row.by_bottles[one]:7.1f}" for one in BOTTLES)
            self.stdout.write(f"{row.name:34}{100 * row.inside:7.1f}{row.k:8.2f}{sizes}\n")
            each = row.by_bottles.values()
            if (
                not LOW <= row.inside <= HIGH
                or not LOW_OF_ONE <= min(each) <= max(each) <= HIGH_OF_ONE
            ):
                wrong.append(row.name)
        if wrong:
            raise CommandError(f"Out of bounds: {', '.join(wrong)}.")
