"""A judge of lists as people keep them: what became of one, and whether that is right.

A list is taken rightly, asked about rightly, or refused clearly. It is misread where other rows
than its own come into the book, or where it is taken although two readings are possible; counted
twice where a row comes in that is in the book already.
"""

from __future__ import annotations

from base64 import b64encode
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import islice, product
from typing import Any
from zoneinfo import ZoneInfo

from recycling.models import Job, Lot, Run, Workshop
from recycling.services.lists import LOOK, TAKE, UNDO
from recycling.tasks import import_look, import_take_back, import_write

WORK = {LOOK: import_look, TAKE: import_write, UNDO: import_take_back}
MOST_TRIED = 12
"""So many ways of answering are tried."""


def work() -> None:
    """Do what waits, in order."""
    for job in Job.objects.filter(finished_at=None, task__in=WORK).order_by("pk"):
        WORK[job.task](job.pk)


def bring(api, data: bytes, name: str = "list", answers: Mapping[str, str] | None = None) -> dict:
    """Bring a file and have it looked through."""
    body: dict[str, Any] = {"name": name, "spreadsheet": b64encode(data).decode()}
    if answers:
        body["answers"] = dict(answers)
    answer = api.send("POST", "/imports/", body)
    if answer.status_code != 202:
        problems = answer.json()["errors"]
        return {"state": "failed", "problems": problems, "questions": [], "number": 0}
    work()
    return api.read(f"/imports/{answer.json()['number']}/")


def take(api, number: int) -> dict:
    """Take a list that was looked through."""
    api.post(f"/imports/{number}/take/", {}, status=202)
    work()
    return api.read(f"/imports/{number}/")


def rows_in(workshop: Workshop, after: int = 0) -> Counter:
    """Count what came in, as day or day and time, giver, polymer, form and mass."""
    zone = ZoneInfo(workshop.zone)
    lots = Lot.objects.filter(workshop_id=workshop.pk, origin__isnull=False, pk__gt=after)
    lots = lots.exclude(made_by__state=Run.VOID).select_related("origin__source")
    found: Counter = Counter()
    for lot in lots:
        at = lot.origin.happened_at.astimezone(zone)
        giver = lot.origin.source.name if lot.origin.source else lot.origin.supplier
        found[at.strftime("%Y-%m-%dT%H:%M"), giver, lot.polymer, lot.form, lot.made_mg] += 1
    return found


def wanted(rows: Sequence[Mapping[str, Any]]) -> Counter:
    """Count rows as a truth has them; a day without a time is its noon."""
    return Counter(
        (
            row["at"] if "T" in row["at"] else f"{row['at']}T12:00",
            row["source"],
            row["polymer"],
            row["form"],
            row["mass_mg"],
        )
        for row in rows
    )


def taken(api, workshop: Workshop, data: bytes, answers: Mapping[str, str]) -> Counter | None:
    """Take a list with answers; None where it cannot be taken. It is undone again."""
    last = Lot.objects.filter(workshop_id=workshop.pk).order_by("-pk").first()
    looked = bring(api, data, answers=answers)
    if looked["state"] != "looked":
        return None
    take(api, looked["number"])
    found = rows_in(workshop, last.pk if last else 0)
    if found:
        api.post(f"/imports/{looked['number']}/undo/", {}, status=202)
        work()
        assert api.read(f"/imports/{looked['number']}/")["state"] == "undone"
    else:
        from recycling.models import ImportFile

        ImportFile.objects.filter(workshop_id=workshop.pk, number=looked["number"]).delete()
    return found


def answered(api, workshop: Workshop, data: bytes, looked: Mapping[str, Any]) -> list[Counter]:
    """Try the ways of answering a list, further questions too; give what each took."""
    found, tried, waiting = [], 0, [({}, looked)]
    while waiting and tried < 4 * MOST_TRIED:
        given, asked = waiting.pop(0)
        keys = [[(one["key"], choice["key"]) for choice in one["choices"]]
                for one in asked["questions"]]  # fmt: skip
        for answers in islice(product(*keys), MOST_TRIED):
            tried += 1
            both = {**given, **dict(answers)}
            further = bring(api, data, answers=both)
            if further["state"] == "asked":
                waiting.append((both, further))
            elif further["state"] == "looked":
                rows = taken(api, workshop, data, both)
                if rows is not None:
                    found.append(rows)
    return found


def judged(api, workshop: Workshop, data: bytes, case: Mapping[str, Any]) -> str:
    """Say "right", or what is wrong: "misread", "twice", "wrongly asked" or "broke"."""
    looked = bring(api, data)
    expect, state = case["expect"], looked["state"]
    if state == "failed":
        if not looked["problems"]:
            return "broke"
        if "refused" not in expect:
            return f"wrongly refused: {looked['problems'][:2]}"
        at = case.get("at", {}).get("row")
        rows = [one.get("row") for one in looked["problems"]]
        return "right" if at is None or at in rows else f"refused at {rows}, not {at}"
    if state == "asked":
        if "question" not in expect:
            return f"wrongly asked: {[one['key'] for one in looked['questions']]}"
        abouts = {one["about"] for one in looked["questions"]}
        if case.get("question") not in abouts:
            return f"asked about {abouts}, not {case.get('question')}"
        results = answered(api, workshop, data, looked)
        for rows in case.get("answers", {"": case["rows"]} if "rows" in case else {}).values():
            if wanted(rows) not in results:
                return f"misread: no answer leads to {wanted(rows)}, but to {results}"
        return "right"
    if "rows" not in expect:
        return "misread: taken without the question that is due"
    known = len(looked["known"])
    rows = taken(api, workshop, data, {})
    if rows != wanted(case["rows"]):
        return f"{'twice' if case.get('known') else 'misread'}: {rows} {looked['questions']}"
    return "right" if known == case.get("known", 0) else f"known {known}"
