"""The OpenAPI description, drawn from the same declarations that the doors work by."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from drf_spectacular.extensions import OpenApiSerializerExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ComponentIdentity
from drf_spectacular.utils import (
    Direction,
    OpenApiExample,
    OpenApiParameter,
    OpenApiResponse,
    extend_schema,
)
from rest_framework import serializers

from api.protocol.answers import ErrorShown, ProblemShown, RecordSerializer
from api.protocol.asking import Ask
from api.protocol.entries import WEIGHED_NOTE, EntrySerializer
from api.protocol.examples import EXAMPLES
from api.protocol.meanings import purpose
from api.protocol.several import MOST
from recycling.stages import STAGES
from recycling.stages.declaration import FORMS, LOSSES, ROLES

JSON, PROBLEM, CSV = "application/json", "application/problem+json", "text/csv"
READING = {
    400: "A query parameter cannot be read.",
    401: "No key, or one that is unknown, expired or revoked.",
    403: "The role or the key's scope does not allow this.",
    404: "There is no such thing in this workshop.",
    406: "Only JSON, and CSV for rows, can be given.",
    422: "The question makes no sense, as a period that ends before it starts.",
    429: "More was asked within a minute than one may ask; Retry-After says when it begins anew.",
    503: "The book is away or busy; ask again after a moment.",
}
WRITING = {
    **READING,
    400: "The body is no JSON, or the Idempotency-Key is missing or no key.",
    409: "Another request is working on this key, or the thing changed meanwhile.",
    412: "What If-Match stands for was changed meanwhile.",
    413: "The body is too large.",
    415: "The body is not declared as JSON.",
    422: "Refused, with every problem; nothing was written. Or: the key came with another body.",
}
KEY = OpenApiParameter(
    "Idempotency-Key",
    {"type": "string", "minLength": 1, "maxLength": 200, "pattern": "^[ -~]+$"},
    OpenApiParameter.HEADER,
    required=True,
    description="A new text for each deed; the same again gives the first answer again.",
)
IF_MATCH = OpenApiParameter(
    "If-Match",
    {"type": "string"},
    OpenApiParameter.HEADER,
    description="The ETag last read; the deed is refused when it changed meanwhile.",
)
OPTIONAL: dict[type, tuple[str, ...]] = {ErrorShown: ("pointer", "parameter", "suggestions")}
CHOICES: Mapping[str, Sequence[str]] = {
    "stage": [stage.key for stage in STAGES],
    "form": FORMS,
    "account": LOSSES,
    "role": list(ROLES),
    "state": ("open", "closed"),
}


def _problems(said: Mapping[int, str]) -> dict[Any, Any]:
    return {
        (status, PROBLEM): OpenApiResponse(RecordSerializer(dataclass=ProblemShown), about)
        for status, about in said.items()
    }


def describe_reading(
    given: type, asks: Sequence[Ask], rows: bool, tagged: bool
) -> Callable[[Any], Any]:
    """Describe a door that shows something."""
    shown = OpenApiResponse(RecordSerializer(dataclass=given), purpose(given))
    responses = {(200, JSON): shown, **_problems(READING)}
    if rows:
        responses[(200, CSV)] = OpenApiResponse({"type": "string"}, "The same rows as CSV.")
    if tagged:
        responses[304] = OpenApiResponse(None, "Not changed since the ETag in If-None-Match.")
    return extend_schema(parameters=[ask.parameter for ask in asks], responses=responses)


def describe_file(kinds: Iterable[str], about: str, asks: Sequence[Ask]) -> Callable[[Any], Any]:
    """Describe a door that gives a file whose form is somebody else's standard."""
    shown = OpenApiResponse({"type": "object", "description": about}, about)
    responses = {(200, kind): shown for kind in sorted(kinds)} | _problems(READING)
    return extend_schema(parameters=[ask.parameter for ask in asks], responses=responses)


def refusals_of_reading() -> dict[Any, Any]:
    """Describe what any door that reads may answer instead."""
    return _problems(READING)


def describe_deed(
    taken: type, given: type, status: int, guarded: bool, several: bool = False
) -> Callable[[Any], Any]:
    """Describe a door that records something; `several` may be taken as a list."""
    said = {code: about for code, about in WRITING.items() if guarded or code != 412}
    done = OpenApiResponse(RecordSerializer(dataclass=given), purpose(given))
    examples = [
        OpenApiExample(name, value, request_only=True, media_type=JSON)
        for name, value in EXAMPLES.get(taken.__name__, {}).items()
    ]
    return extend_schema(
        parameters=[KEY, IF_MATCH] if guarded else [KEY],
        request={JSON: OneOrSeveral(taken) if several else EntrySerializer(dataclass=taken)},
        responses={(status, JSON): done, **_problems(said)},
        examples=examples,
    )


class OneOrSeveral(serializers.Serializer):
    """Stands for a body that may be a list of such bodies."""

    def __init__(self, taken: type) -> None:
        self.taken = taken
        super().__init__()


class OneOrSeveralScheme(OpenApiSerializerExtension):
    target_class = OneOrSeveral

    def get_name(self, *_: Any) -> str:
        return f"{self.target.taken.__name__}OrSeveral"

    def get_identity(self, auto_schema: AutoSchema, direction: Direction) -> ComponentIdentity:
        return ComponentIdentity((OneOrSeveral, self.target.taken))

    def map_serializer(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        one = auto_schema.resolve_serializer(
            EntrySerializer(dataclass=self.target.taken), direction
        )
        listed = {"type": "array", "items": one.ref, "minItems": 1, "maxItems": MOST}
        return {"oneOf": [one.ref, listed]}


class DoorSchema(AutoSchema):
    """Names operations by their door, so that the names stay when addresses move."""

    def get_operation(self, *args: Any) -> dict[str, Any] | None:
        operation = super().get_operation(*args)
        if operation is not None:
            words = re.findall("[A-Z][a-z]*", type(self.view).__name__.removesuffix("Api"))
            name = "_".join([*(word.lower() for word in words), self.method.lower()])
            operation["operationId"] = name
        return operation

    def _get_request_for_media_type(self, serializer: Any, *args: Any) -> tuple[Any, bool]:
        schema, required = super()._get_request_for_media_type(serializer, *args)
        return schema, required or isinstance(serializer, OneOrSeveral)

    def _get_format_parameters(self) -> list[Any]:
        return []

    def get_tags(self) -> list[str]:
        return [self.path.removeprefix("/api/v1/").partition("/")[0]]


class RecordScheme(OpenApiSerializerExtension):
    target_class: Any = RecordSerializer
    priority = 1

    @property
    def record(self) -> type:
        return self.target.dataclass_definition.dataclass_type

    def get_name(self, *_: Any) -> str:
        return self.record.__name__

    def get_identity(self, auto_schema: AutoSchema, direction: Direction) -> ComponentIdentity:
        return ComponentIdentity(self.record)

    def map_serializer(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        schema = auto_schema._map_serializer(self.target, direction, bypass_extensions=True)
        schema["description"] = purpose(self.record)
        schema["required"] = [
            name
            for name in schema.get("properties", {})
            if name not in OPTIONAL.get(self.record, ())
        ]
        return schema


class EntryScheme(RecordScheme):
    target_class = EntrySerializer

    def map_serializer(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        schema = auto_schema._map_serializer(self.target, direction, bypass_extensions=True)
        schema["description"] = purpose(self.record)
        schema["additionalProperties"] = False
        properties = schema.setdefault("properties", {})
        for name in CHOICES.keys() & properties.keys():
            properties[name]["enum"] = list(CHOICES[name])
        _masses_as_texts(schema)
        return schema


def _masses_as_texts(schema: dict[str, Any]) -> None:
    """Say that each mass may be given as text, and that the net mass may follow from a gross."""
    properties, needed = schema["properties"], schema.get("required", [])
    ways = []
    single = [name for name in properties if properties[name].get("type") != "array"]
    for name in [name for name in single if name.endswith("_mg")]:
        short = name.removesuffix("_mg")
        properties[short] = {
            "type": "string",
            "description": f"Instead of {name}: with its unit (mg, g, kg, oz, lb), as 1.234 kg.",
        }
        if name in needed:
            needed.remove(name)
            net = name == "mass_mg" and WEIGHED_NOTE in properties
            others = [name, short, *(("gross_mg", "gross") if net else ())]
            if net and "count" in properties:
                others.append("count")
            ways.append({"anyOf": [{"required": [other]} for other in others]})
    if ways:
        schema["allOf"] = ways
    if not needed:
        schema.pop("required", None)
