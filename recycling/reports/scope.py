"""What a report is about: its period in the workshop's zone, and whose collections it follows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TypeVar
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.formats import date_format

from recycling.calc.reports.diversion import Counter
from recycling.ledger.models import Book, Entry
from recycling.models import Lot, Programme, Source
from recycling.records.actors import Actor
from recycling.records.reports.question import KINDS, THANKS, ReportQuestion
from shared.errors import Problem, Refused
from shared.said import say

DAY = timedelta(days=1)
MOST_YEARS = 20
MOST_PEOPLE = 10_000_000

Kind = TypeVar("Kind", Programme, Source)


@dataclass(frozen=True)
class Scope:
    """What is read for a report.

    ``cuts`` are the moments between which masses are added up: the start, each first of a month
    inside the period, and the end. ``programme`` and ``source`` are None unless it is about one.
    """

    actor: Actor
    question: ReportQuestion
    cuts: tuple[datetime, ...]
    now: datetime
    sequence: int
    programme: Programme | None = None
    source: Source | None = None

    @property
    def start(self) -> datetime:
        """When the period begins."""
        return self.cuts[0]

    @property
    def end(self) -> datetime:
        """When it is over; not part of it."""
        return self.cuts[-1]

    @property
    def zone(self) -> ZoneInfo:
        """The workshop's zone."""
        return ZoneInfo(self.actor.zone)

    @property
    def column(self) -> str:
        """Column of origins by which they are followed; empty for the whole workshop."""
        return "programme_id" if self.programme else "source_id" if self.source else ""

    @property
    def key(self) -> int | None:
        """What that column must be."""
        one = self.programme or self.source
        return one.pk if one else None

    @property
    def is_whole(self) -> bool:
        """Whether it is about the whole workshop."""
        return self.programme is None and self.source is None

    @property
    def about(self) -> str:
        """Name of the programme or source; empty for the whole workshop."""
        one = self.programme or self.source
        return one.name if one else ""

    def day(self, moment: datetime) -> str:
        """Write the day of a moment in the workshop's zone."""
        return moment.astimezone(self.zone).date().isoformat()

    def month(self, place: int) -> str:
        """Name the month that follows a cut."""
        first = self.cuts[place].astimezone(self.zone).date()
        return date_format(first, "YEAR_MONTH_FORMAT")


def scope_of(actor: Actor, question: ReportQuestion) -> Scope:
    """Check what is asked, and find what it is about.

    Raises
    ------
    Refused
        For each thing that is wrong: kind, period, counter, programme, source; or when figures
        that the report rests on are still being recomputed.
    """
    now = timezone.now()
    programme = _named(Programme, actor, question.programme)
    source = _named(Source, actor, question.source)
    problems = [*_of_question(question), *_of_period(actor, question, now)]
    if question.programme and programme is None:
        said = say("There is no programme “{name}” here.", name=question.programme)
        problems.append(Problem("programme-unknown", said, "/programme"))
    if question.source and source is None:
        said = say("There is no source “{name}” here.", name=question.source)
        problems.append(Problem("source-unknown", said, "/source"))
    if problems:
        raise Refused(*problems)
    cuts = _cuts(question.from_date, question.to_date, ZoneInfo(actor.zone))
    _refuse_empty_and_stale(actor, cuts[-1])
    sequence = Book.objects.values_list("last_sequence", flat=True).get(pk=actor.workshop_id)
    return Scope(actor, question, cuts, now, sequence, programme, source)


def _named(kind: type[Kind], actor: Actor, name: str) -> Kind | None:
    """Find a programme or source by name, or by id."""
    if not name:
        return None
    rows = kind._default_manager.filter(workshop_id=actor.workshop_id)
    found = rows.filter(name=name).first()
    if found is None and name.isascii() and name.isdigit() and len(name) < 18:
        found = rows.filter(pk=int(name)).first()
    return found


def _of_question(question: ReportQuestion) -> list[Problem]:
    problems = []
    if question.kind not in KINDS:
        problems.append(Problem("report-kind-unknown", "A report is for a period or thanks."))
    if question.programme and question.source:
        problems.append(
            Problem("report-about-both", "Choose a programme or a source, not both.", "/source")
        )
    if question.kind == THANKS and not question.source:
        problems.append(Problem("source-missing", "Say whom the thanks are for.", "/source"))
    if question.counts_as not in list(Counter):
        said = say("One of {counters}.", counters=", ".join(Counter))
        problems.append(Problem("counter-unknown", said, "/counts_as"))
    people = question.people_reached
    if people is not None and not 0 <= people <= MOST_PEOPLE:
        said = say("From 0 to {most} people.", most=MOST_PEOPLE)
        problems.append(Problem("number-out-of-bounds", said, "/people_reached"))
    return problems


def _of_period(actor: Actor, question: ReportQuestion, now: datetime) -> list[Problem]:
    today = now.astimezone(ZoneInfo(actor.zone)).date()
    if question.to_date < question.from_date:
        said = "The last day lies before the first."
        return [Problem("period-backwards", said, "/to_date")]
    if question.from_date > today:
        said = say("Nothing is known yet of a period from {day} on.", day=question.from_date)
        return [Problem("period-in-future", said, "/from_date")]
    if question.to_date.year - question.from_date.year > MOST_YEARS or question.to_date.year > 9990:
        said = say("A report covers {years} years at most.", years=MOST_YEARS)
        return [Problem("period-too-long", said, "/to_date")]
    return []


def _cuts(first: date, last: date, zone: ZoneInfo) -> tuple[datetime, ...]:
    days = [first]
    month = first.replace(day=1)
    while (month := (month + 31 * DAY).replace(day=1)) <= last:
        days.append(month)
    return tuple(midnight(day, zone) for day in (*days, last + DAY))


def midnight(day: date, zone: ZoneInfo) -> datetime:
    """Say in UTC when a day begins in a zone."""
    return datetime.combine(day, time.min, tzinfo=zone).astimezone(UTC)


def _refuse_empty_and_stale(actor: Actor, end: datetime) -> None:
    book = Entry.objects.filter(book_id=actor.workshop_id, happened_at__lt=end)
    if not book.exists():
        raise Refused.because(
            "report-of-nothing",
            "Nothing was recorded up to the end of this period, not even stock.",
            "/to_date",
        )
    waiting = Lot.objects.filter(workshop_id=actor.workshop_id, stale=True).count()
    if waiting:
        raise Refused.because(
            "report-waits",
            say(
                "{count} lots are still being recomputed after a correction;"
                " ask again in a few minutes.",
                count=waiting,
            ),
        )
