"""Names that may change and be erased: what was told of them apart from the history of changes."""

from __future__ import annotations

import json
import os
from functools import partial
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from recycling.models import (
    Answer,
    EarlierName,
    Erasure,
    ImportFile,
    ImportLine,
    ListAnswer,
    Workshop,
)
from recycling.tables.lists.folded import folded

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
    """Let go of every name that is kept of somebody, in kept answers and lists too.

    Answers are text: a name stands there as JSON writes it. A repeat is then told that the answer
    was not kept.
    """
    earlier = EarlierName.objects.filter(workshop_id=workshop_id, subject=subject)
    names = {name, *earlier.values_list("name", flat=True)}
    for known in names:
        for written in {known, json.dumps(known)[1:-1]}:
            answers = Answer.objects.filter(workshop_id=workshop_id, body__contains=written)
            answers.update(body="")
    earlier.delete()
    _forget_in_lists(workshop_id, names)


def _forget_in_lists(workshop_id: int, names: set[str]) -> None:
    """Take names out of lists that were taken, and out of what was answered about them.

    The bytes of such a list go whole: what it became is in the book. One that was not taken yet
    stays as it is, for somebody is at work on it.
    """
    folds = {name for one in names for name in (one, folded(one)) if name}
    for answer in ListAnswer.objects.filter(workshop_id=workshop_id):
        if _names(answer.choice, folds) or _names(answer.key, folds):
            answer.delete()
    files = ImportFile.objects.filter(workshop_id=workshop_id)
    for file in files.filter(state__in=(ImportFile.TAKEN, ImportFile.UNDONE)).defer("data"):
        found, answered = _without(file.found, folds), _without(file.answers, folds)
        changed = []
        for line in file.lines.exclude(said={}).iterator():
            said = _without(line.said, folds)
            if said != line.said:
                line.said = said
                changed.append(line)
        ImportLine.objects.bulk_update(changed, ["said"], batch_size=500)
        if changed or found != file.found or answered != file.answers:
            file.found, file.answers, file.data = found, answered, b""
            file.save(update_fields=["found", "answers", "data"])


def _without(value: Any, folds: set[str]) -> Any:
    """Give what JSON holds with nothing where one of these names stood, whatever its case."""
    if isinstance(value, dict):
        kept = ((key, one) for key, one in value.items() if not _names(key, folds))
        return {key: _without(one, folds) for key, one in kept}
    if isinstance(value, list):
        return [_without(one, folds) for one in value]
    return "" if _names(value, folds) else value


def _names(text: Any, folds: set[str]) -> bool:
    """Whether a text is one of these names, or the key of a question about it."""
    if not isinstance(text, str):
        return False
    named = text.partition(":")[2] if ":" in text else text
    return bool({text, folded(text), named, folded(named)} & folds)


def note_erasure(workshop_id: int, kind: str, identity: str) -> None:
    """Remember who was erased, by a key that tells nothing, so that a restore erases them again."""
    workshop = Workshop.objects.get(pk=workshop_id)
    Erasure.objects.get_or_create(
        kind=kind,
        identity=identity,
        workshop=workshop.identity,
        defaults={"erased_at": timezone.now()},
    )
    # what is in the book is not undone where its file cannot be written: the next backup writes it
    transaction.on_commit(partial(write_erasures, settings.ERASURES_FILE), robust=True)


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
    draft = path.with_name(f"{path.name}.{os.getpid()}")
    draft.touch(mode=0o600)
    draft.write_text("".join(f"{line}\n" for line in lines))
    draft.replace(path)
