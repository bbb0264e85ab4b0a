"""Measure the service against plain SQL and plain linear algebra, side by side."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from recycling.management.benchmark.book import benchmark_book
from recycling.management.benchmark.compositions import composition_ratios
from recycling.management.benchmark.energy import energy_ratios
from recycling.management.benchmark.lists import list_ratios
from recycling.management.benchmark.measure import table
from recycling.management.benchmark.reconciliation import reconciliation_ratios
from recycling.management.benchmark.recording import record_ratios
from recycling.management.benchmark.report import report_ratios
from recycling.management.benchmark.suspects import suspects_ratios
from recycling.management.benchmark.traces import trace_ratios

SUBJECTS = {
    "trace": trace_ratios,
    "composition": composition_ratios,
    "record": record_ratios,
    "lists": list_ratios,
    "suspects": suspects_ratios,
    "energy": energy_ratios,
    "report": report_ratios,
    "reconciliation": reconciliation_ratios,
}


class Command(BaseCommand):
    """Build a large book once, measure, and print ratios with their goals."""

    help = (
        "Build a book of many lots in this database (once), and print how long the service takes"
        " and how long plain statements take on the same data, interleaved, as ratios with goals."
        " Use a database of its own. Exits 1 when a goal is missed and --strict is given."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("subjects", nargs="+", choices=[*SUBJECTS, "all"])
        parser.add_argument("--lots", type=int, default=100_000)
        parser.add_argument("--cases", type=int, default=60, help="pairs that are timed")
        parser.add_argument("--strict", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["lots"] < 500 or options["cases"] < 3:
            raise CommandError("At least 500 lots and 3 cases; fewer measure nothing.")
        actor = benchmark_book(options["lots"], self.stderr.write)
        wanted = list(SUBJECTS) if "all" in options["subjects"] else options["subjects"]
        ratios = []
        for name in dict.fromkeys(wanted):
            self.stderr.write(f"measuring: {name}")
            ratios += SUBJECTS[name](actor, options["cases"])
        self.stdout.write(f"{connection.vendor}, at least {options['lots']} lots in one workshop")
        self.stdout.write(table(ratios))
        if options["strict"] and not all(ratio.met for ratio in ratios):
            sys.exit(1)
