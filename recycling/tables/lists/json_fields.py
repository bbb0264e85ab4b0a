"""Fields of a JSON object, read one by one; every problem is found with where it stands."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from shared.errors import Collected, Refused
from shared.said import say

LONGEST_NAME = 60
"""Characters of a name that are said again when something is wrong with it."""


def read_json(text: str) -> Any:
    """Read strict JSON: no NaN, no key twice.

    Raises
    ------
    Refused
        With line and column of what cannot be read.
    """
    try:
        return json.loads(
            text,
            object_pairs_hook=_object,
            parse_constant=_refuse_constant,
            parse_float=_finite,
        )
    except json.JSONDecodeError as error:
        raise Refused.because(
            "json-unreadable",
            say(
                "Line {lineno}, column {colno}: this is not JSON ({lower}).",
                lineno=error.lineno,
                colno=error.colno,
                lower=error.msg.lower(),
            ),
        ) from error
    except RecursionError as error:
        raise Refused.because("json-unreadable", "This JSON is nested too deeply.") from error
    except ValueError as error:  # Python reads no whole number of more than 4,300 digits
        raise Refused.because("json-unreadable", "A number in it is far too long.") from error


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) < len(pairs):
        twice = name_twice(pairs)[:LONGEST_NAME]
        said = say("The field “{twice}” stands twice in one object.", twice=twice)
        raise Refused.because("field-twice", said)
    return read


def name_twice(pairs: Sequence[tuple[str, Any]]) -> str:
    """Find the first name that stands twice; empty where none does.

    Examples
    --------
    >>> name_twice([("a", 1), ("b", 2), ("a", 3)])
    'a'
    """
    seen = set[str]()
    for name, _value in pairs:
        if name in seen:
            return name
        seen.add(name)
    return ""


def _finite(digits: str) -> float:
    read = float(digits)
    if not math.isfinite(read):
        said = say("{name} is not a number of JSON.", name=digits[:LONGEST_NAME])
        raise Refused.because("json-unreadable", said)
    return read


def _refuse_constant(name: str) -> None:
    raise Refused.because("json-unreadable", say("{name} is not a number of JSON.", name=name))


class Fields:
    """The fields of one object; what was not asked for by the end is unknown."""

    def __init__(self, read: Any, pointer: str, found: Collected) -> None:
        self.pointer, self.found = pointer, found
        self._left: dict[str, Any] = dict(read) if isinstance(read, dict) else {}
        if not isinstance(read, dict):
            found.add("not-an-object", "An object in braces is needed here.", pointer)

    def has(self, name: str) -> bool:
        """Whether the field is there and was not read yet."""
        return name in self._left

    def text(self, name: str, needed: bool = False) -> str:
        """Read a text; empty when it is not there."""
        return self._read(name, lambda value: isinstance(value, str), "a text", "", needed)

    def whole(self, name: str, needed: bool = False) -> int | None:
        """Read a whole number."""
        return self._read(name, lambda value: type(value) is int, "a whole number", None, needed)

    def number(self, name: str, default: float | None = None) -> float | None:
        """Read a number."""
        return self._read(name, lambda value: type(value) in (int, float), "a number", default)

    def mass_mg(self) -> int:
        """Read a mass in mg; its bounds are checked when it is recorded."""
        mass = self.whole("mass_mg", needed=True)
        return 0 if mass is None else mass

    def moment(self, name: str, needed: bool = False) -> datetime | None:
        """Read a time of ISO 8601 with its offset."""
        typed = self.text(name, needed)
        if not typed:
            return None
        try:
            read = datetime.fromisoformat(typed)
        except ValueError:
            read = None
        if read is None or read.tzinfo is None:
            self._note(
                name,
                f"“{typed[:LONGEST_NAME]}” is not a time with offset such as 2026-05-04T09:30:00Z.",
            )
            return None
        return read

    def rows(self, name: str) -> list[Fields]:
        """Read a list of objects; empty when it is not there."""
        rows = self._read(name, lambda value: isinstance(value, list), "a list", [])
        return [
            Fields(row, f"{self.pointer}/{name}/{place}", self.found)
            for place, row in enumerate(rows)
        ]

    def yes(self, name: str, default: bool) -> bool:
        """Read true or false."""
        return self._read(name, lambda value: isinstance(value, bool), "true or false", default)

    def inside(self, name: str) -> Fields | None:
        """Read an object; None when something else stands there, which stays to be read."""
        if not isinstance(self._left.get(name), dict):
            return None
        return Fields(self._left.pop(name), f"{self.pointer}/{name}", self.found)

    def leave(self) -> None:
        """Ask nothing more of this object, whatever is left in it."""
        self._left.clear()

    def end(self) -> None:
        """Note a problem for each field that nobody asked for."""
        for name in self._left:
            said = f"There is no field “{name[:LONGEST_NAME]}” here."
            self._note(name[:LONGEST_NAME], said, "field-unknown")

    def _read(
        self, name: str, fits: Callable[[Any], bool], what: str, default: Any, needed: bool = False
    ) -> Any:
        if name not in self._left:
            if needed:
                self._note(name, f"The field “{name}” is needed.", "field-missing")
            return default
        value = self._left.pop(name)
        if not fits(value):
            self._note(name, f"“{name}” must be {what}, not {json.dumps(value)[:60]}.")
            return default
        return value

    def _note(self, name: str, detail: str, code: str = "field-wrong") -> None:
        self.found.add(code, detail, f"{self.pointer}/{name}")
