"""Names that may change and be erased: what was told of them apart from the history of changes."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from recycling.models import Answer, EarlierName, Erasure, Workshop

MEMBER, SOURCE = "member", "source"


def keep_earlier_name(workshop_id: int, subject: str, name: str) -> int:
    """Keep what somebody was called until now, and return the number of that name."""
    earlier = EarlierName.objects.filter(workshop_id=workshop_id, subject=subject)
    number = earlier.count() + 1
    earlier.create(
        workshop_id=workshop_id,
        subject=subject,
        number=number,
        name=name,
        until_at=timezone.now(),
    )
    return number


def forget_names(workshop_id: int, subject: str, name: str) -> None:
    """Let go of every name that is kept of somebody, in kept answers too.

    Answers are text: a name stands there as JSON writes it. A repeat is then told that the answer
    was not kept.
    """
    earlier = EarlierName.objects.filter(workshop_id=workshop_id, subject=subject)
    for known in {name, *earlier.values_list("name", flat=True)}:
        for written in {known, json.dumps(known)[1:-1]}:
            answers = Answer.objects.filter(workshop_id=workshop_id, body__contains=written)
            answers.update(body="")
    earlier.delete()


def note_erasure(workshop_id: int, kind: str, identity: str) -> None:
    """Remember who was erased, by a key that tells nothing, so that a restore erases them again."""
    workshop = Workshop.objects.get(pk=workshop_id)
    Erasure.objects.get_or_create(
        kind=kind,
        identity=identity,
        workshop=workshop.identity,
        defaults={"erased_at": timezone.now()},
    )
    transaction.on_commit(partial(write_erasures, settings.ERASURES_FILE))


def read_erasures(path: Path) -> list[dict[str, str]]:
    """Read who was erased; raises ValueError when a line is none."""
    if not path.exists():
        return []
    lines = [json.loads(line) for line in path.read_text().splitlines() if line.strip()]
    if any(set(one) != {"workshop", "kind", "identity"} for one in lines):
        raise ValueError(str(path))
    return lines


def write_erasures(path: Path) -> None:
    """Write who was erased beside the database: what the file knows more than it stays there."""
    known = {
        (str(workshop), kind, identity)
        for workshop, kind, identity in Erasure.objects.values_list("workshop", "kind", "identity")
    }
    known |= {(one["workshop"], one["kind"], one["identity"]) for one in read_erasures(path)}
    names = ("workshop", "kind", "identity")
    lines = [json.dumps(dict(zip(names, one, strict=True))) for one in sorted(known)]
    draft = path.with_name(f"{path.name}.new")
    draft.touch(mode=0o600)
    draft.write_text("".join(f"{line}\n" for line in lines))
    draft.replace(path)
