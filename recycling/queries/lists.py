"""Files of entries that were brought: listed, followed, and what lists are read against."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Count, Max, Q
from django.utils import timezone

from recycling.models import (
    ImportFile,
    ImportLine,
    ListAnswer,
    Lot,
    Polymer,
    Programme,
    Run,
    Scale,
    Source,
    Workshop,
)
from recycling.queries.paging import checked_limit, cursor_for, number_of
from recycling.queries.people.names import Names
from recycling.records.actors import Actor
from recycling.records.lists import (
    ImportChoice,
    ImportColumn,
    ImportCounts,
    ImportedLot,
    ImportLineRow,
    ImportProblem,
    ImportQuestion,
    ImportRow,
    KnownRow,
    SkippedRow,
)
from recycling.records.paging import Page
from recycling.tables.lists.entries import again
from recycling.tables.lists.fates import BookLot
from recycling.tables.lists.folded import folded
from recycling.tables.lists.known import USUAL_LARGEST_MG, Known
from shared.errors import Unknown
from shared.said import again as said_again
from shared.said import say

MOST_LISTED, MOST_SHOWN = 20, 1_000
_PRINT = (
    *("code", "origin__kind", "origin__happened_at", "origin__source__name", "origin__supplier"),
    *("polymer", "form", "made_mg", "note", "origin__note"),
)


def imports(actor: Actor) -> list[ImportRow]:
    """List the latest files of entries, the newest first, without their rows."""
    rows = ImportFile.objects.filter(workshop_id=actor.workshop_id).defer("data")
    names = Names(actor.workshop_id)
    return [_row(one, names, with_rows=False) for one in rows.order_by("-number")[:MOST_LISTED]]


def import_shown(actor: Actor, number: int) -> ImportRow:
    """Show how far a file is, and what was found in it.

    Raises
    ------
    Unknown
        When there is none of that number in this workshop.
    """
    return _row(import_named(actor.workshop_id, number), Names(actor.workshop_id))


def import_rows(
    actor: Actor, number: int, fate: str = "", after: str = "", limit: int = 100
) -> Page[ImportLineRow]:
    """List the rows of a list with their fates, page by page; raises Unknown when there is none."""
    file = import_named(actor.workshop_id, number)
    lines = file.lines.select_related("lot").order_by("number")
    lines = lines.filter(fate=fate) if fate else lines
    start, limit = number_of(after), checked_limit(limit)
    found = list(lines.filter(number__gt=start or 0)[: limit + 1])
    further = cursor_for(found[limit - 1].number) if len(found) > limit else ""
    return Page(tuple(_line(one) for one in found[:limit]), further)


def import_named(workshop_id: int, number: int) -> ImportFile:
    """Fetch a file of a workshop by its number; raises Unknown when there is none."""
    files = ImportFile.objects.filter(workshop_id=workshop_id, number=number)
    found = files.defer("data").first()
    if found is None:
        raise Unknown.because("import-unknown", "There is no such file in this workshop.")
    return found


def known_for_lists(workshop: Workshop) -> Known:
    """Read what the lists of a workshop are read against: what is set up, and its answers."""
    own = {"workshop_id": workshop.pk}
    answers: dict[str, dict[str, str]] = {}
    for heads, key, choice in ListAnswer.objects.filter(**own).values_list(
        "heads", "key", "choice"
    ):
        answers.setdefault(heads, {})[key] = choice
    largest = Scale.objects.filter(**own, retired_at=None).aggregate(mg=Max("capacity_mg"))["mg"]
    return Known(
        zone=workshop.zone,
        now=timezone.now(),
        sources=tuple(Source.objects.filter(**own).order_by("name").values_list("name", flat=True)),
        programmes=tuple(
            Programme.objects.filter(**own).order_by("name").values_list("name", flat=True)
        ),
        polymers=tuple(
            Polymer.objects.filter(**own).order_by("code").values_list("code", "name", "resin_code")
        ),
        largest_mg=largest or USUAL_LARGEST_MG,
        answers=answers,
    )


def lots_of_days(workshop: Workshop, first: date, last: date, after: int = 0) -> list[BookLot]:
    """List the lots that came in from a day until another, and what lists said of them.

    A lot that was taken from a list stands there as the list said it, too: it is known when the
    list comes again, whatever was put right in the book since. `after` is a lot's key: those
    made later alone.
    """
    zone = ZoneInfo(workshop.zone)
    start = datetime.combine(first, datetime.min.time(), zone)
    end = datetime.combine(last + timedelta(days=1), datetime.min.time(), zone)
    lots = Lot.objects.filter(
        workshop_id=workshop.pk,
        pk__gt=after,
        origin__happened_at__gte=start,
        origin__happened_at__lt=end,
    ).exclude(made_by__state=Run.VOID)
    found = [_book_lot(zone, *one) for one in lots.values_list(*_PRINT).iterator()]
    return found + list(_said_of_lots(workshop, first, last, after))


def _book_lot(zone: ZoneInfo, code: str, kind: str, at: datetime, *said: Any) -> BookLot:
    source, supplier, polymer, form, mass_mg, *notes = said
    day, giver = at.astimezone(zone).date(), folded(source or supplier or "")
    marks = frozenset(folded(one) for one in notes if one)
    return BookLot(code, (kind, day, giver, polymer, form, mass_mg), marks)


def _said_of_lots(workshop: Workshop, first: date, last: date, after: int) -> Iterator[BookLot]:
    lines = ImportLine.objects.filter(
        file__workshop_id=workshop.pk,
        fate=ImportLine.NEW,
        lot_id__gt=after,
        day__gte=first,
        day__lte=last,
    ).exclude(lot__made_by__state=Run.VOID)
    for code, said in lines.values_list("lot__code", "said").iterator():
        row = again(said)
        yield BookLot(code, row.print, row.marks)


def _row(one: ImportFile, names: Names, with_rows: bool = True) -> ImportRow:
    found = one.found
    lots = [_lot(*lot) for lot in found.get("lots", ())] if with_rows else []
    told = found.get("told", {})
    counts = _counts(one)
    return ImportRow(
        number=one.number,
        name=one.name,
        digest=one.digest,
        state=one.state,
        done_share=one.done_share,
        entries=found.get("entries", 0),
        lots=tuple(lots + (list(_lines_as_lots(one)) if with_rows else [])),
        lots_count=counts.new or len(found.get("lots", ())),
        mass_mg=told.get("mass_mg", 0),
        givers=tuple(told.get("givers", ())),
        givers_count=told.get("givers_count", 0),
        first_at=_moment(told.get("first_at")),
        last_at=_moment(told.get("last_at")),
        counts=counts,
        questions=tuple(_question(**asked) for asked in found.get("questions", ())),
        skipped=tuple(_skipped(one)) if with_rows else (),
        known=tuple(_known(one)) if with_rows else (),
        columns=tuple(ImportColumn(*column) for column in found.get("columns", ())),
        new_sources=tuple(found.get("new_sources", ())),
        problems=tuple(_problem(**one) for one in found.get("problems", ())),
        more_problems=found.get("more_problems", 0),
        brought_at=one.brought_at,
        brought_by=names.of(one.brought_by),
        taken_at=one.taken_at,
        undo_until=_undo_until(one),
    )


def _undo_until(one: ImportFile) -> datetime | None:
    if one.state != ImportFile.TAKEN or one.taken_at is None:
        return None
    until = one.taken_at + timedelta(minutes=settings.UNDO_MINUTES)
    return until if until > timezone.now() else None


def _counts(one: ImportFile) -> ImportCounts:
    counts = one.found.get("counts")
    if counts is None:
        return ImportCounts()
    return ImportCounts(**counts, recorded=one.found.get("recorded", 0))


def lines_counted(file: ImportFile) -> dict[str, int]:
    """Count the rows of a list by their fate."""
    rows = file.lines.values_list("fate").annotate(count=Count("pk"))
    return dict(rows.order_by())


def _moment(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


def _lines_as_lots(one: ImportFile) -> Iterator[ImportedLot]:
    if "counts" not in one.found:
        return
    lines = one.lines.filter(fate=ImportLine.NEW).select_related("lot").order_by("number")
    if one.state == ImportFile.FAILED:
        lines = lines.filter(~Q(lot=None))
    for line in lines[:MOST_SHOWN]:
        said = _line(line)
        yield ImportedLot(
            f"row {line.number}", said.lot, said.row, said.entry, said.at, said.giver,
            said.form, said.polymer, said.colour, said.mass_mg,
        )  # fmt: skip


def _line(line: ImportLine) -> ImportLineRow:
    said, code = line.said, line.lot.code if line.lot else ""
    if not said:
        return ImportLineRow(line.number, line.fate, line.why, code, "", None, "", "", "", "", 0)
    return ImportLineRow(
        row=line.number,
        fate=line.fate,
        why=line.why,
        lot=code,
        entry=said["kind"],
        at=_moment(said["at"]),
        giver=said["source"] or said["supplier"],
        form=said["form"],
        polymer=said["polymer"],
        colour=said["colour"],
        mass_mg=said["mass_mg"],
    )


def _skipped(one: ImportFile) -> list[SkippedRow]:
    if "skipped" in one.found:
        return [SkippedRow(*row) for row in one.found["skipped"]]
    lines = one.lines.filter(fate=ImportLine.LEFT).order_by("number")
    return [SkippedRow(*row) for row in lines.values_list("number", "why")[:MOST_SHOWN]]


def _known(one: ImportFile) -> list[KnownRow]:
    lines = one.lines.filter(fate=ImportLine.KNOWN).order_by("number")
    return [KnownRow(*row) for row in lines.values_list("number", "lot__code")[:MOST_SHOWN]]


def _question(choices: list[dict[str, Any]], detail: Any, **asked: Any) -> ImportQuestion:
    each = tuple(
        ImportChoice(one["key"], said_again(one["label"]), said_again(one["example"]))
        for one in choices
    )
    return ImportQuestion(detail=said_again(detail), choices=each, **asked)


def _lot(
    name: str, code: str, row: int = 0, entry: str = "", at: str = "", *said: Any
) -> ImportedLot:
    return ImportedLot(name, code, row, entry, datetime.fromisoformat(at) if at else None, *said)


def _problem(said: tuple[str, dict[str, Any]] | None = None, **problem: Any) -> ImportProblem:
    """Put a problem's words together again, so that a page can say them in its language."""
    if said:
        problem["detail"] = say(said[0], **said[1])
    return ImportProblem(**problem)
