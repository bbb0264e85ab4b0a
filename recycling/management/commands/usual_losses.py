"""Say how often honest runs are flagged, and planted slips found, over invented books."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from recycling.calc.balance.loss_figures import Tally, count
from recycling.calc.balance.loss_simulation import KINDS, invented

FLAGGED, WORST, ACCUSED, FOUND, FIRST, BLAMED = 0.05, 0.10, 0.01, 0.95, 0.80, 0.05


class Command(BaseCommand):
    """Print the figures by kind; fails where one is out of bounds."""

    help = (
        "Invent books of weighings with usual losses, one slip or loss planted in each, judge"
        " every run by those before it, and print how often that was right."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--books", type=int, default=40, help="of each kind, 40 by default")
        parser.add_argument("--runs", type=int, default=80, help="in each book, 80 by default")
        parser.add_argument("--seed", type=int, default=1, help="of the first book, 1 by default")

    def handle(self, *args: Any, books: int, runs: int, seed: int, **options: Any) -> None:
        if books < 1 or runs < 20:
            raise CommandError("At least one book of each kind and 20 runs are needed.")
        found = Tally()
        for kind in KINDS:
            for number in range(seed, seed + books):
                book = invented(number, kind, runs)
                if kind == "honest" or "seen_run" in book["truth"]:
                    count(found, book)
        self._print(found)
        wrong = [name for name, holds in _holds(found) if not holds]
        if wrong:
            raise CommandError(f"Out of bounds: {', '.join(wrong)}.")

    def _print(self, found: Tally) -> None:
        self.stdout.write(f"{'planted':16}{'books':>6}{'found %':>9}{'first %':>9}{'named %':>9}")
        for kind, one in found.planted.items():
            parts = "".join(
                f"{100 * one[what] / one['books']:9.1f}" for what in ("found", "first", "named")
            )
            self.stdout.write(f"{kind:16}{one['books']:6}{parts}")
        self.stdout.write(
            f"all slips: found {100 * found.slips('found'):.1f} %,"
            f" right line first {100 * found.slips('first'):.1f} %"
        )
        self.stdout.write(
            f"honest runs: {found.honest['runs']}, flagged {100 * found.share('flagged'):.2f} %"
            f" (worst book {100 * found.worst_book:.1f} %),"
            f" accused {100 * found.share('accused'):.2f} %"
        )
        self.stdout.write(f"real losses called a slip: {100 * found.losses('named'):.1f} %")


def _holds(found: Tally) -> list[tuple[str, bool]]:
    return [
        ("honest runs flagged", found.share("flagged") <= FLAGGED),
        ("honest runs flagged in one book", found.worst_book <= WORST),
        ("honest runs accused", found.share("accused") <= ACCUSED),
        ("slips found", found.slips("found") >= FOUND),
        ("right line first", found.slips("first") >= FIRST),
        ("real losses called a slip", found.losses("named") <= BLAMED),
    ]
