"""Fields of a request, strictly of their type: nothing is guessed, nothing is cut."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework_dataclasses.fields import IterableField

from shared.errors import Refused
from shared.texts import refuse_sign
from shared.units import parse_mass

LARGEST_WHOLE = 2**63 - 1
LARGEST_NUMBER = 1e15
MOST_WRONG = 1_000
_MOMENT = re.compile(
    r"^\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(?P<offset>[Zz]|[+-]\d\d:\d\d)?$", re.ASCII
)
_DAY = re.compile(r"^\d{4}-\d\d-\d\d$", re.ASCII)


class StrictField(serializers.Field):
    """A field that takes one JSON type; its `read` returns the value or raises Refused."""

    read: Callable[[Any], Any]

    def to_internal_value(self, data: Any) -> Any:
        try:
            return type(self).read(data)
        except Refused as refused:
            problem = refused.problems[0]
            raise serializers.ValidationError(problem.detail, problem.code) from refused

    def to_representation(self, value: Any) -> Any:
        return value


def read_whole(data: Any) -> int:
    """Read a whole number: no text, no 1.0, no true."""
    if type(data) is not int:
        raise Refused.because("whole-wanted", "A whole number is wanted here, as 1234.")
    if abs(data) > LARGEST_WHOLE:
        raise Refused.because("number-out-of-bounds", "This number is far too large.")
    return data


def read_number(data: Any) -> float:
    """Read a number that is finite."""
    if type(data) not in (int, float) or not abs(data) <= LARGEST_NUMBER:
        raise Refused.because("number-wanted", "A number is wanted here, as 1.75.")
    return data


def read_yes_no(data: Any) -> bool:
    """Read true or false, and nothing that stands for them."""
    if type(data) is not bool:
        raise Refused.because("yes-no-wanted", "true or false is wanted here.")
    return data


def read_text(data: Any) -> str:
    """Read a text that can be kept."""
    if type(data) is not str:
        raise Refused.because("text-wanted", "A text is wanted here.")
    return refuse_sign(data)


def read_noted(data: Any) -> str:
    """Read what was read off an instrument: a text, or a number as it is."""
    return repr(read_number(data)) if type(data) in (int, float) else read_text(data)


def read_reference(data: Any) -> str:
    """Read the name or id of something that was set up."""
    return str(read_whole(data)) if type(data) is int else read_text(data)


def read_day(data: Any) -> date:
    """Read a date, as 2024-05-31."""
    try:
        if type(data) is str and _DAY.match(data):
            return date.fromisoformat(data)
    except ValueError:
        pass
    raise Refused.because("date-unreadable", "A date is wanted here, as 2024-05-31.")


def read_moment(data: Any) -> datetime:
    """Read a time with its offset (RFC 3339) as UTC."""
    match = _MOMENT.match(data) if type(data) is str else None
    if match is None:
        raise Refused.because(
            "time-unreadable", "A time is wanted here, as 2024-05-31T14:30:00+02:00."
        )
    if not match["offset"]:
        raise Refused.because("time-without-offset", "A time needs its offset, as in +02:00 or Z.")
    try:
        return datetime.fromisoformat(data.upper()).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise Refused.because("time-unreadable", "There is no such time.") from error


def read_mass(data: Any) -> int:
    """Read a mass given as text with its unit, in mg."""
    return parse_mass(read_text(data), bare_unit=None)


@extend_schema_field({"type": "integer"})
class Whole(StrictField):
    read = staticmethod(read_whole)


@extend_schema_field({"type": "number"})
class Number(StrictField):
    read = staticmethod(read_number)


@extend_schema_field({"type": "boolean"})
class YesNo(StrictField):
    read = staticmethod(read_yes_no)


@extend_schema_field({"type": "string"})
class Text(StrictField):
    read = staticmethod(read_text)


@extend_schema_field({"type": ["string", "number"]})
class Noted(StrictField):
    read = staticmethod(read_noted)


@extend_schema_field({"type": ["string", "integer"]})
class Reference(StrictField):
    read = staticmethod(read_reference)


@extend_schema_field({"type": "string", "format": "date"})
class Day(StrictField):
    read = staticmethod(read_day)


@extend_schema_field({"type": "string", "format": "date-time"})
class Moment(StrictField):
    read = staticmethod(read_moment)


class Several(IterableField):
    """A list, read as a tuple; when a thousand in it are wrong the rest is left alone."""

    def run_child_validation(self, data: Sequence[Any]) -> list[Any]:
        read: list[Any] = []
        wrong: dict[int, Any] = {}
        for place, one in enumerate(data):
            try:
                read.append(self.child.run_validation(one))
            except serializers.ValidationError as error:
                wrong[place] = error.detail
                if len(wrong) >= MOST_WRONG:
                    break
        if wrong:
            raise serializers.ValidationError(wrong)  # type: ignore[arg-type]
        return read
