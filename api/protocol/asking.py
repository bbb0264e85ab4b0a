"""Query parameters, each named, explained and checked; an unknown one is refused."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request

from api.protocol.authentication import actor_of
from api.protocol.fields import read_moment
from api.protocol.problems import BadRequest
from recycling.records.actors import Actor
from recycling.stages import STAGES
from recycling.stages.declaration import FORMS
from shared.errors import Collected, Refused
from shared.said import say
from shared.texts import strange_sign

MOST_ROWS = 200
LONGEST_TEXT = 200
BEGINNING = datetime(2000, 1, 1, tzinfo=UTC)
_DAY = re.compile(r"^\d{4}-\d\d-\d\d$", re.ASCII)
_LOST_PLUS = re.compile(r" (?=\d\d:\d\d$)", re.ASCII)

Reader = Callable[[str, Actor], Any]


@dataclass(frozen=True)
class Ask:
    """A query parameter: its name here and in the query behind, how it is read, what it means."""

    name: str
    about: str
    read: Reader
    schema: Mapping[str, Any]
    passed_as: str = ""
    default: Callable[[], Any] | None = None

    @property
    def parameter(self) -> OpenApiParameter:
        """Describe it for the schema."""
        return OpenApiParameter(self.name, dict(self.schema), description=self.about)


def text(name: str, about: str) -> Ask:
    """Ask for a text."""
    return Ask(name, about, _read_text, {"type": "string", "maxLength": LONGEST_TEXT})


def choice(name: str, about: str, choices: Sequence[str]) -> Ask:
    """Ask for one of several words."""

    def read(value: str, actor: Actor) -> str:
        if value not in choices:
            raise Refused.because(
                "choice-wrong", say("One of {choices}.", choices=", ".join(choices))
            )
        return value

    return Ask(name, about, read, {"type": "string", "enum": list(choices)})


def flag(name: str, about: str) -> Ask:
    """Ask for yes or no."""
    words = {"true": True, "false": False}

    def read(value: str, actor: Actor) -> bool:
        if value not in words:
            raise Refused.because("choice-wrong", "true or false.")
        return words[value]

    return Ask(name, about, read, {"type": "boolean"})


def number(name: str, about: str, low: int, high: int) -> Ask:
    """Ask for a whole number within bounds."""

    def read(value: str, actor: Actor) -> int:
        plain = value.isascii() and value.isdigit() and len(value) <= 19
        if not plain or not low <= int(value) <= high:
            raise Refused.because(
                "number-out-of-bounds",
                say("A whole number from {low} to {high}.", low=low, high=high),
            )
        return int(value)

    schema = {"type": "integer", "minimum": low, "maximum": high}
    return Ask(name, about, read, schema)


def moment(
    name: str, about: str, passed_as: str, default: Callable[[], datetime] | None = None
) -> Ask:
    """Ask for a time with offset, or for a day's start in the workshop's time zone."""
    schema = {"anyOf": [{"type": "string", "format": f} for f in ("date-time", "date")]}
    return Ask(name, about, _read_moment, schema, passed_as, default)


def _read_text(value: str, actor: Actor) -> str:
    if len(value) > LONGEST_TEXT or strange_sign(value):
        raise Refused.because(
            "text-unreadable",
            say("At most {longest_text} readable characters.", longest_text=LONGEST_TEXT),
        )
    return value


def _read_moment(value: str, actor: Actor) -> datetime:
    if _DAY.match(value):
        try:
            day = datetime.combine(date.fromisoformat(value), time(), ZoneInfo(actor.zone))
            return day.astimezone(UTC)
        except (ValueError, OverflowError) as error:
            raise Refused.because("date-unreadable", "There is no such day.") from error
    # a plus sign that was not written as %2B arrives as a space
    return read_moment(_LOST_PLUS.sub("+", value))


AFTER = text("after", "Cursor: the `next` of the page before.")
LIMIT = number("limit", "Most rows of a page.", 1, MOST_ROWS)
PAGING = (AFTER, LIMIT)
STAGE = choice("stage", "Key of a stage.", [stage.key for stage in STAGES])
FORM = choice("form", "Form of the lot.", FORMS)
POLYMER = text("polymer", "Code of a polymer.")
TEXT = text("text", "Part of a code or note.")
PERIOD = (
    moment(
        "from", "Start of the period; without it the start of the book.", "start", lambda: BEGINNING
    ),
    moment("to", "End of the period, not in it; without it now.", "end", lambda: datetime.now(UTC)),
)
WITHIN = (
    moment("from", "Only what happened from then on.", "start"),
    moment("to", "Only what happened before then.", "end"),
)


def asked(request: Request, asks: Sequence[Ask]) -> dict[str, Any]:
    """Read what the query asks for, or refuse with everything that is wrong with it."""
    found, wanted = Collected(), {}
    known = {ask.name: ask for ask in asks}
    for name, values in request.query_params.lists():
        if name not in known:
            have = ", ".join(known) or "none"
            found.add("parameter-unknown", say("Parameters here: {have}.", have=have), f"?{name}")
            continue
        if len(values) > 1:
            found.add("parameter-twice", "Give this once.", f"?{name}")
            continue
        try:
            ask = known[name]
            wanted[ask.passed_as or name] = ask.read(values[0], actor_of(request))
        except Refused as refused:
            found.add(refused.problems[0].code, refused.problems[0].detail, f"?{name}")
    if found.any:
        raise BadRequest(*found.problems)
    for ask in asks:
        if ask.default is not None:
            wanted.setdefault(ask.passed_as or ask.name, ask.default())
    return wanted
