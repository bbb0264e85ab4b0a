"""Reading the lines of a history; see ``tests/histories.py`` for what they look like."""

from __future__ import annotations

import re
from collections.abc import Callable

from recycling.records.lots.mass_entries import (
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
)
from recycling.records.runs.entries import CheckEntry
from recycling.stages.declaration import FORMS, ROLES, Stage
from shared.units import parse_mass

LONGEST_FORMS_FIRST = sorted(FORMS, key=len, reverse=True)
MASS = re.compile(r"\d+(?:\.\d+)?(?:kg|g|mg)")


class Line:
    """One line of a history: its words and its hour.

    >>> line = Line("R1 sort C1.1 4.9kg -> clean bottles 4.5kg, ~residue 20g @7", 3)
    >>> line.words, line.hour
    ('R1 sort C1.1 4.9kg -> clean bottles 4.5kg, ~residue 20g', 7.0)
    """

    def __init__(self, text: str, hour: float):
        self.words, _, at = text.partition("@")
        self.words, self.hour = self.words.strip(), float(at) if at else hour


def draws(text: str, code: Callable[[str], str]) -> list[DrawEntry]:
    """Read what is drawn: names of lots, each with a mass or "all"."""
    found = []
    for one in filter(None, (part.strip() for part in text.split(","))):
        lot, mass = one.rsplit(" ", 1)
        whole = mass == "all"
        found.append(DrawEntry(code(lot), None if whole else parse_mass(mass), all=whole))
    return found


def gives(text: str) -> tuple[list[OutputEntry], list[LossEntry], HeelEntry | None]:
    """Read what a run gave: outputs, losses after ~, and its heel."""
    outputs: list[OutputEntry] = []
    losses: list[LossEntry] = []
    heel = None
    for one in filter(None, (part.strip() for part in text.split(","))):
        if one.startswith("~"):
            account, mass = one[1:].split(" ")
            sign = -1 if mass.startswith("-") else 1
            losses.append(LossEntry(account, sign * parse_mass(mass.lstrip("-"))))
            continue
        kind, rest = form(one)
        words = rest.split(" ")
        mass_mg = parse_mass(next(word for word in words if MASS.fullmatch(word)))
        role = next((word for word in words if word in ROLES), "")
        said = {"spool", role}
        polymer = next(
            (word for word in words if word not in said and not MASS.fullmatch(word)), ""
        )
        if kind == "heel":
            heel = HeelEntry(mass_mg, polymer)
            continue
        spool = SpoolEntry() if "spool" in words else None
        outputs.append(OutputEntry(kind, mass_mg, polymer, role=role, spool=spool))
    return outputs, losses, heel


def form(text: str) -> tuple[str, str]:
    """Part a form from what follows it."""
    kind = next(kind for kind in LONGEST_FORMS_FIRST if text.startswith(kind))
    return kind, text[len(kind) :].strip()


def required_checks(declared: Stage) -> tuple[CheckEntry, ...]:
    """Note something fitting in every check that a stage requires."""
    return tuple(
        CheckEntry(field.key, field.choices[0] if field.choices else "1")
        for field in declared.checks
        if field.required
    )
