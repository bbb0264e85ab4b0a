"""Files of entries that were brought: listed, and followed while they are looked through."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from recycling.models import ImportFile
from recycling.queries.people.names import Names
from recycling.records.actors import Actor
from recycling.records.lists import ImportedLot, ImportProblem, ImportRow
from shared.errors import Unknown
from shared.said import say

MOST_LISTED = 20


def imports(actor: Actor) -> list[ImportRow]:
    """List the latest files of entries, the newest first."""
    rows = ImportFile.objects.filter(workshop_id=actor.workshop_id).defer("text")
    names = Names(actor.workshop_id)
    return [_row(one, names) for one in rows.order_by("-number")[:MOST_LISTED]]


def import_shown(actor: Actor, number: int) -> ImportRow:
    """Show how far a file is, and what was found in it.

    Raises
    ------
    Unknown
        When there is none of that number in this workshop.
    """
    return _row(import_named(actor.workshop_id, number), Names(actor.workshop_id))


def import_named(workshop_id: int, number: int) -> ImportFile:
    """Fetch a file of a workshop by its number; raises Unknown when there is none."""
    found = ImportFile.objects.filter(workshop_id=workshop_id, number=number).first()
    if found is None:
        raise Unknown.because("import-unknown", "There is no such file in this workshop.")
    return found


def _row(one: ImportFile, names: Names) -> ImportRow:
    found = one.found
    return ImportRow(
        number=one.number,
        name=one.name,
        digest=one.digest,
        state=one.state,
        done_share=one.done_share,
        entries=found.get("entries", 0),
        lots=tuple(_lot(*lot) for lot in found.get("lots", ())),
        problems=tuple(_problem(**one) for one in found.get("problems", ())),
        more_problems=found.get("more_problems", 0),
        brought_at=one.brought_at,
        brought_by=names.of(one.brought_by),
        taken_at=one.taken_at,
    )


def _lot(
    name: str, code: str, row: int = 0, entry: str = "", at: str = "", *said: Any
) -> ImportedLot:
    return ImportedLot(name, code, row, entry, datetime.fromisoformat(at) if at else None, *said)


def _problem(said: tuple[str, dict[str, Any]] | None = None, **problem: Any) -> ImportProblem:
    """Put a problem's words together again, so that a page can say them in its language."""
    if said:
        problem["detail"] = say(said[0], **said[1])
    return ImportProblem(**problem)
