"""From a body to a frozen entry: unknown names are refused, masses may be texts with a unit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail
from rest_framework_dataclasses.fields import MappingField
from rest_framework_dataclasses.serializers import DataclassListSerializer, DataclassSerializer

from api.protocol.fields import (
    Day,
    Moment,
    Noted,
    Number,
    Reference,
    Several,
    Text,
    Whole,
    YesNo,
    read_mass,
)
from api.protocol.meanings import meanings
from recycling.records.lots.mass_entries import WeighingEntry
from shared.errors import Problem, Refused

WEIGHED_NOTE = "weighing_note"
FRAMEWORK_CODES = {
    "required": ("field-missing", "This is needed."),
    "null": ("field-null", "This cannot be null; leave it out instead."),
    "invalid": ("object-wanted", "An object with named fields is wanted here."),
    "not_a_dict": ("object-wanted", "An object with named fields is wanted here."),
    "not_a_list": ("list-wanted", "A list is wanted here."),
}
BY_NAME = {"source": Reference, "programme": Reference, "machine": Reference, "value": Noted}
"""Fields that take more than the text which the entry keeps."""


class EntryListSerializer(DataclassListSerializer):
    """A list of entries, read as a tuple."""

    def to_internal_value(self, data: Any) -> Any:
        return tuple(super().to_internal_value(data))


class EntrySerializer(DataclassSerializer):
    """Reads one kind of entry; the weighing of a mass is given beside it, not inside an object."""

    serializer_field_mapping = {
        int: Whole,
        float: Number,
        bool: YesNo,
        str: Text,
        date: Day,
        datetime: Moment,
        list: Several,
        dict: MappingField,
    }

    @property
    def serializer_dataclass_field(self) -> type[EntrySerializer]:
        return EntrySerializer

    @classmethod
    def many_init(cls, *args: Any, **kwargs: Any) -> Any:
        kwargs.pop("allow_empty", None)
        listed = {
            key: value for key, value in kwargs.items() if key in serializers.LIST_SERIALIZER_KWARGS
        }
        return EntryListSerializer(*args, **{**listed, "child": cls(**kwargs)})

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        if fields.pop("weighing", None) is not None:
            fields |= {name: one for name, one in weighed_fields().items() if name not in fields}
        entry: type = self.dataclass_definition.dataclass_type
        said = meanings(entry) | meanings(WeighingEntry)
        texts = {name for name, field in fields.items() if isinstance(field, Text)}
        for name in BY_NAME.keys() & texts:
            fields[name] = BY_NAME[name](required=fields[name].required)
        for name in [name for name in fields if name.endswith("_")]:
            fields[name].source = name  # "from" is no name in Python
            fields[name.removesuffix("_")] = fields.pop(name)
        for name, field in fields.items():
            source = (field.source or name).removeprefix("weighing.")
            field.help_text = said.get(source, "")
        return fields

    def to_internal_value(self, data: Any) -> Any:
        if type(data) is not dict:
            raise serializers.ValidationError(*_framework_detail("invalid"))
        given, wrong = self._named(data)
        try:
            native = serializers.Serializer.to_internal_value(self, given)
        except serializers.ValidationError as error:
            assert isinstance(error.detail, dict)
            wrong = {**error.detail, **wrong}
        for name in [name for name in wrong if f"{name}_mg" in self.fields]:
            wrong.pop(f"{name}_mg", None)
        if wrong:
            raise serializers.ValidationError(wrong)
        if isinstance(native.get("weighing"), dict):
            native["weighing"] = WeighingEntry(**native["weighing"])
        return self.dataclass_definition.dataclass_type(**native)

    def _named(self, data: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
        """Keep what the entry has names for, masses as texts among it; the rest is wrong."""
        given: dict[str, Any] = {}
        wrong: dict[str, Any] = {}
        for name, value in data.items():
            mass = f"{name}_mg"
            if name in self.fields:
                given[name] = value
            elif mass in self.fields and mass not in data:
                _keep_mass(value, name, given, wrong)
            elif mass in self.fields:
                wrong[name] = _detail("mass-twice", f"Give {name} or {mass}, not both.")
            else:
                wrong[name] = _detail("field-unknown", "There is no field of this name here.")
        _weigh_net(self.fields, given)
        _count_net(self.fields, given, wrong)
        return given, wrong


def weighed_fields() -> dict[str, serializers.Field]:
    """Name the fields that say how a mass became known."""
    text: dict[str, Any] = {"required": False}
    return {
        "how": Text(source="weighing.how", **text),
        "gross_mg": Whole(source="weighing.gross_mg", **text),
        "tare_mg": Whole(source="weighing.tare_mg", **text),
        "scale": Text(source="weighing.scale", **text),
        "sample": Text(source="weighing.sample", **text),
        "u_mg": Whole(source="weighing.u_mg", **text),
        "raw": Text(source="weighing.raw", **text),
        WEIGHED_NOTE: Text(source="weighing.note", **text),
    }


def _keep_mass(value: Any, name: str, given: dict[str, Any], wrong: dict[str, Any]) -> None:
    try:
        given[f"{name}_mg"] = read_mass(value)
    except Refused as refused:
        wrong[name] = _detail(refused.problems[0].code, refused.problems[0].detail)


def _weigh_net(fields: Iterable[str], given: dict[str, Any]) -> None:
    """Take the tare off the gross reading where the net mass was not given."""
    gross, tare = given.get("gross_mg"), given.get("tare_mg", 0)
    weighed = WEIGHED_NOTE in fields and type(gross) is int and type(tare) is int
    if weighed and "mass_mg" not in given and not given.get("all"):
        given["mass_mg"] = gross - tare


def _count_net(fields: Iterable[str], given: dict[str, Any], wrong: Mapping[str, Any]) -> None:
    """Leave the mass of counted pieces to their sample where none was given."""
    needs = "mass_mg" not in given and "mass" not in wrong
    if {"count", "sample"} <= set(fields) and type(given.get("count")) is int and needs:
        given["mass_mg"] = 0


def _detail(code: str, text: str) -> list[ErrorDetail]:
    return [ErrorDetail(text, code)]


def _framework_detail(code: str) -> tuple[str, str]:
    name, text = FRAMEWORK_CODES[code]
    return text, name


def read_entry(taken: type, data: Any) -> Any:
    """Read a body as an entry, or refuse with every problem and its place."""
    try:
        return EntrySerializer(data=data, dataclass=taken).run_validation(data)
    except serializers.ValidationError as error:
        raise Refused(*problems_in(error.detail, "")) from error


def problems_in(detail: Any, pointer: str) -> Iterator[Problem]:
    """Walk the framework's nested errors and give each its JSON pointer (RFC 6901)."""
    if isinstance(detail, ErrorDetail):
        code, text = FRAMEWORK_CODES.get(detail.code or "", (detail.code or "", str(detail)))
        yield Problem(code, text, pointer)
    elif isinstance(detail, Mapping):
        for name, inner in detail.items():
            own = name == "non_field_errors"
            escaped = str(name).replace("~", "~0").replace("/", "~1")
            yield from problems_in(inner, pointer if own else f"{pointer}/{escaped}")
    else:
        whole = all(isinstance(inner, ErrorDetail) for inner in detail)
        for place, inner in enumerate(detail):
            yield from problems_in(inner, pointer if whole else f"{pointer}/{place}")
