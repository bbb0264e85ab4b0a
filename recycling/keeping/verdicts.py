"""What a verdict must obey, whoever gives it."""

from __future__ import annotations

from collections.abc import Sequence

from recycling.keeping.texts import check_text
from recycling.records.quality.verdicts import DEFECTS, PrintedWith
from shared.errors import Collected
from shared.said import say

BOUNDS = {"nozzle_c": (100, 500), "bed_c": (0, 250), "speed_mm_s": (1, 2000)}
"""Settings of a printer outside these are slips; from memory, wide on purpose."""


def check_printed(printed: PrintedWith, found: Collected) -> None:
    """Note settings of a printer that no printer has."""
    for name, (least, most) in BOUNDS.items():
        value = getattr(printed, name)
        if value is not None and not least <= value <= most:
            detail = say("Between {least} and {most}.", least=least, most=most)
            found.add("printed-with-wrong", detail, f"/{name}")


def check_verdict(good: bool, defects: Sequence[str], note: str, found: Collected) -> None:
    """Note problems of a verdict: a bad spool has a defect of the list, a good one has none."""
    if any(defect not in DEFECTS for defect in defects):
        found.add(
            "defect-unknown", say("Defects are: {defects}.", defects=", ".join(DEFECTS)), "/defects"
        )
    if not good and not defects:
        found.add("defect-missing", "Say what was wrong; choose at least one.", "/defects")
    if good and defects:
        found.add("defect-of-good", "A good spool has no defects.", "/defects")
    check_text(note, "/note", found)
