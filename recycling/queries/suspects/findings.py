"""Kept findings: a list, and one read from its frozen data."""

from __future__ import annotations

from recycling.models import KeptFinding, Origin
from recycling.queries.people.names import Names
from recycling.queries.suspects.finding_text import digest_of_body, renamed, thawed
from recycling.records.actors import Actor
from recycling.records.suspects.findings import FindingRecord, FindingRow
from recycling.records.suspects.ranking import Suspects
from shared.errors import Unknown

MOST_ROWS = 200


def findings(actor: Actor) -> list[FindingRow]:
    """List the newest findings."""
    names = Names(actor.workshop_id)
    rows = KeptFinding.objects.filter(workshop_id=actor.workshop_id).order_by("-number")
    return [
        FindingRow(one.number, one.title, names.of(one.kept_by), one.digest, one.kept_at)
        for one in rows.defer("body")[:MOST_ROWS]
    ]


def finding_page(actor: Actor, number: int) -> FindingRecord:
    """Show a finding as it was kept.

    Raises
    ------
    Unknown
        When there is no such finding in this workshop.
    """
    kept = _kept(actor, number)
    answer = thawed(kept.body)
    return FindingRecord(
        kept.number,
        kept.title,
        kept.note,
        Names(actor.workshop_id).of(kept.kept_by),
        kept.kept_at,
        kept.sequence,
        kept.digest,
        digest_of_body(kept.body) == kept.digest,
        renamed(answer, _names(actor.workshop_id, answer)),
    )


def finding_data(actor: Actor, number: int) -> str:
    """Give the data of a finding, letter by letter as its digest was taken.

    Raises
    ------
    Unknown
        When there is no such finding in this workshop.
    """
    return _kept(actor, number).body


def _kept(actor: Actor, number: int) -> KeptFinding:
    kept = KeptFinding.objects.filter(workshop_id=actor.workshop_id, number=number).first()
    if kept is None:
        raise Unknown.because("finding-unknown", "There is no such finding in this workshop.")
    return kept


def _names(workshop_id: int, answer: Suspects) -> dict[str, str]:
    members = [one for row in answer.rows for one in row.members]
    codes = [one.code for one in members if one.kind == "origin"]
    origins = Origin.objects.filter(workshop_id=workshop_id, code__in=codes)
    return {
        f"origin:{code}": source or supplier or kind
        for code, source, supplier, kind in origins.values_list(
            "code", "source__name", "supplier", "kind"
        )
    }
