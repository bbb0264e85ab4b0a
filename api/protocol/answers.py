"""From a frozen record to JSON, and the shapes of answers that only the API gives."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from dataclasses import dataclass, fields, is_dataclass, make_dataclass
from datetime import date, datetime
from types import GenericAlias
from typing import Any, get_type_hints

from rest_framework import serializers
from rest_framework.renderers import JSONRenderer
from rest_framework_dataclasses.field_utils import get_type_info
from rest_framework_dataclasses.serializers import DataclassSerializer

from api.protocol.fields import Day, Moment, Number, Several, Text, Whole, YesNo
from api.protocol.meanings import meanings
from recycling.records.balance.doubts import Suggestion
from recycling.records.setup.register import Finding


class RecordSerializer(DataclassSerializer):
    """Describes a record with its properties; each field means what the record says."""

    serializer_field_mapping = {
        **DataclassSerializer.serializer_field_mapping,
        int: Whole,
        float: Number,
        bool: YesNo,
        str: Text,
        date: Day,
        datetime: Moment,
        list: Several,
    }

    @property
    def record(self) -> type:
        """The record that is described."""
        return self.dataclass_definition.dataclass_type

    @property
    def serializer_dataclass_field(self) -> type[RecordSerializer]:
        return RecordSerializer

    def get_default_field_names(self, declared_fields: Iterable[str]) -> list[str]:
        names = list(super().get_default_field_names(declared_fields))
        return names + list(properties(self.record))

    def build_property_field(self, field_name: str) -> Any:
        kind = properties(self.record)[field_name]
        known = get_type_info(kind)
        field, options = self.build_standard_field(field_name, known)
        return field, options | ({"allow_null": True} if known.is_nullable else {})

    def get_fields(self) -> dict[str, serializers.Field]:
        shown = super().get_fields()
        record = self.record
        said = {name: getattr(record, name).__doc__ or "" for name in properties(record)}
        said |= meanings(record)
        for name, field in shown.items():
            field.help_text = said.get(name, "")
        return shown


@functools.cache
def properties(record: type) -> dict[str, Any]:
    """Map a record's properties to their types."""
    return {
        name: get_type_hints(value.fget)["return"]
        for base in reversed(record.__mro__)
        for name, value in vars(base).items()
        if isinstance(value, property)
    }


@functools.cache
def _names(record: type) -> tuple[str, ...]:
    return (*(field.name for field in fields(record)), *properties(record))


def shown(value: Any) -> Any:
    """Show a record as plain data: its fields and its properties, as its schema says."""
    if is_dataclass(value) and not isinstance(value, type):
        return {name: shown(getattr(value, name)) for name in _names(type(value))}
    if isinstance(value, tuple | list):
        return [shown(one) for one in value]
    return value


def as_json(value: Any) -> str:
    """Write plain data as JSON."""
    return JSONRenderer().render(value).decode()


@functools.cache
def page_of(row: type) -> type:
    """Make the record of a page of rows."""
    rows = GenericAlias(tuple, (row, ...))
    page = make_dataclass(f"{row.__name__}Page", [("rows", rows), ("next", str)], frozen=True)
    page.__doc__ = """A part of a list in a stable order.

    Attributes
    ----------
    rows : tuple
        The rows.
    next : str
        Cursor to send as `after` for the rows that follow; empty at the end.
    """
    return page


@dataclass(frozen=True)
class ErrorShown:
    """One thing that is wrong.

    Attributes
    ----------
    detail : str
        What is wrong and what to do about it.
    code : str
        A stable name of it, for programs.
    pointer : str
        JSON pointer (RFC 6901) to the part of the body that is meant; empty for the whole.
    parameter : str
        Name of the query parameter that is meant, instead of a pointer.
    suggestions : tuple of Suggestion
        What may be meant there instead; left out where nothing is proposed.
    """

    detail: str
    code: str
    pointer: str = ""
    parameter: str = ""
    suggestions: tuple[Suggestion, ...] = ()


@dataclass(frozen=True)
class ProblemShown:
    """Why a request was refused (RFC 9457); nothing of it was written.

    Attributes
    ----------
    type : str
        URN of the kind of problem; it ends with the code of its errors, or "several".
    title : str
        What happened, in short.
    status : int
        The status of the answer.
    detail : str
        What is wrong and what to do about it.
    errors : tuple of ErrorShown
        Each thing that is wrong, with its place; at most 100 of them.
    more_errors : int
        How many more things are wrong.
    """

    type: str
    title: str
    status: int
    detail: str
    errors: tuple[ErrorShown, ...]
    more_errors: int = 0


@dataclass(frozen=True)
class LotNoted:
    """A lot of which something was noted.

    Attributes
    ----------
    code : str
        Its code.
    """

    code: str


@dataclass(frozen=True)
class KeyRevoked:
    """A key that no longer works.

    Attributes
    ----------
    key : int
        Its id.
    """

    key: int


@dataclass(frozen=True)
class AuditDone:
    """What the audit found.

    Attributes
    ----------
    sound : bool
        Whether every invariant holds.
    findings : tuple of Finding
        What breaks one.
    """

    sound: bool
    findings: tuple[Finding, ...]
