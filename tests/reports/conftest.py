"""A workshop with a season told, and reports asked of it."""

from __future__ import annotations

from copy import deepcopy
from datetime import date

import pytest

from recycling.models import Job
from recycling.records.reports.rows import ReportEntry
from recycling.services.reports.ask import TASK, report_ask
from recycling.services.reports.make import report_make
from tests.histories import Told, tell

STORY = """
C1: bottles PET 5kg, 3kg; bottles HDPE 200g
C2: bottles PET 2kg
R1 sort C1.1 all, C1.2 all, C2.1 1kg -> clean bottles 8.5kg, caps HDPE 400g, ~residue 40g
R2 shred R1.1 all -> flake 8.3kg, oversize 150g
R3 dry R2.1 4kg -> dried flake 3990g, ~water 8g
R4 extrude R3.1 3kg -> filament 900g spool, filament 950g spool, heel 60g
"""
FIRST, LAST = date(2024, 1, 1), date(2024, 3, 31)


def entry(**changed) -> ReportEntry:
    """Return what is asked of a quarter, with some of it changed."""
    return ReportEntry(**{"from_date": FIRST, "to_date": LAST, **changed})


def made(told: Told, **changed) -> str:
    """Ask for a report and make it; return its code."""
    code = report_ask(told.actor, entry(**changed))
    report_make(Job.objects.filter(task=TASK).latest("pk").pk)
    return code


@pytest.fixture(scope="module")
def made_book(module_book) -> Told:
    return tell(STORY)


@pytest.fixture
def told(made_book, db) -> Told:
    return deepcopy(made_book)
