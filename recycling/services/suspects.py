"""Keep what a search for a cause found, frozen with the data it rests on."""

from __future__ import annotations

from django.db.models import Max
from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.keeping.texts import check_text
from recycling.models import KeptFinding
from recycling.queries.people.workshops import last_sequence
from recycling.queries.suspects.finding_text import digest_of_body, frozen
from recycling.queries.suspects.ranking import gather, weigh
from recycling.records.actors import Actor
from recycling.records.suspects.findings import FindingEntry, FindingRow
from shared.errors import Collected

LINES_KEPT = 50


@deed("record")
def finding_keep(actor: Actor, entry: FindingEntry) -> FindingRow:
    """Search as asked, now, and keep the answer, the verdicts and the shares with their SHA-256.

    Raises
    ------
    Refused
        When it has no title, or the question makes no sense.
    """
    title, note, found = entry.title.strip(), entry.note.strip(), Collected()
    if not title:
        found.add("title-missing", "Say in a few words what it is about.", "/title")
    check_text(title, "/title", found, 120)
    check_text(note, "/note", found)
    found.refuse()
    evidence = gather(actor, entry.question)
    answer, _ = weigh(evidence, entry.question, entry.priors, LINES_KEPT)
    sequence = last_sequence(actor.workshop_id)
    body = frozen(evidence, answer, sequence)
    rows = KeptFinding.objects.filter(workshop_id=actor.workshop_id)
    kept = KeptFinding.objects.create(
        workshop_id=actor.workshop_id,
        number=(rows.aggregate(last=Max("number"))["last"] or 0) + 1,
        title=title,
        note=note,
        body=body,
        digest=digest_of_body(body),
        sequence=sequence,
        kept_at=timezone.now(),
        kept_by=actor.reference,
    )
    return FindingRow(kept.number, kept.title, actor.name, kept.digest, kept.kept_at)
