"""Answers about lists, remembered for the workshop; and what keeps a list from being undone."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils import timezone

from recycling.keeping.heel_chain import chained_draws
from recycling.models import Counted, Draw, ImportFile, ImportLine, ListAnswer, Run
from recycling.tables.lists.names import ADD, LEAVE
from shared.errors import Collected, Refused
from shared.said import say

REMEMBERED = ("columns:", "unit", "number", "date", "kind")
"""Questions about lists with these heads whose answers hold for the next one."""
NAMES = ("source:", "polymer:", "programme:")
"""Questions about names, whose answers hold for every list."""
MOST_ANSWERS, LONGEST = 500, 200
MOST_NAMED = 5


def answers_of(answers: Mapping[str, str], file: ImportFile | None = None) -> dict[str, str]:
    """Check answers: each to a question that was put, by one of its choices.

    Raises
    ------
    Refused
        Naming each that is none.
    """
    found, put = Collected(), _put(file) if file else None
    if len(answers) > MOST_ANSWERS:
        raise Refused.because("answers-wrong", "These are too many answers.", "/answers")
    for key, choice in answers.items():
        pointer = f"/answers/{key}"[:LONGEST]
        if len(key) > LONGEST or not isinstance(choice, str) or len(choice) > LONGEST:
            found.add("answers-wrong", say("An answer is the key of a choice."), pointer)
        elif put is not None and key not in put:
            found.add("answers-wrong", say("Nothing was asked by this key."), pointer)
        elif put is not None and choice not in put[key]:
            choices = ", ".join(put[key][:20])
            found.add("answers-wrong", say("One of {choices}.", choices=choices), pointer)
    found.refuse()
    return dict(answers)


def _put(file: ImportFile) -> dict[str, list[str]]:
    asked = {
        one["key"]: [choice["key"] for choice in one["choices"]]
        for one in file.found.get("questions", ())
    }
    return {key: [choice] for key, choice in file.answers.items()} | asked


def answers_keep(file: ImportFile) -> None:
    """Remember the answers that a list was taken with, which the next one will not be asked."""
    heads = file.found.get("signature", "")
    for key, choice in file.found.get("answered", {}).items():
        of_name = key.startswith(NAMES) and choice not in (ADD, LEAVE)
        if not (of_name or key.startswith(REMEMBERED)) or max(len(key), len(choice)) > LONGEST:
            continue
        ListAnswer.objects.update_or_create(
            workshop_id=file.workshop_id,
            heads="" if of_name else heads,
            key=key,
            defaults={"choice": choice, "answered_at": timezone.now()},
        )


def refuse_built_on_import(file: ImportFile) -> None:
    """Refuse to take a list back from whose lots somebody drew, or that a count found."""
    lots = (
        file.lines.filter(fate=ImportLine.NEW)
        .exclude(lot=None)
        .exclude(lot__made_by__state=Run.VOID)
        .values("lot_id")
    )
    drawn = (
        Draw.objects.filter(lot_id__in=lots, mass_mg__gt=0)
        .exclude(run__state=Run.VOID)
        .exclude(chained_draws())
    )
    counted = Counted.objects.filter(lot_id__in=lots, run__state=Run.CLOSED)
    codes = [
        *drawn.values_list("lot__code", flat=True).distinct()[:MOST_NAMED],
        *counted.values_list("lot__code", flat=True).distinct()[:MOST_NAMED],
    ]
    if codes:
        text = say(
            "Something was recorded on what this list gave: {lots}. Void that first.",
            lots=", ".join(dict.fromkeys(codes)),
        )
        raise Refused.because("import-drawn-on", text)
