"""How much a body may hold: looked at before anything is made of what is in it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from shared.errors import Refused
from shared.said import say

MOST_LISTED, MOST_PLAIN, MOST_NAMES, MOST_DEPTH, MOST_VALUES = 500, 2_500, 100, 12, 250_000
"""Objects in a list, plain values in a list, names in an object, levels, and values in all."""
LONGER: Mapping[str, int] = MappingProxyType({"readings": 50_000})
"""Lists of objects that may be longer, by the name they stand under."""


def check_bounds(data: Any) -> None:
    """Refuse a body with a list, an object or a depth that no entry has.

    Raises
    ------
    Refused
        With a pointer to what is too long; nothing inside of it was looked at.

    Examples
    --------
    >>> check_bounds({"bags": [{"mass": "1 kg"}] * 500})
    >>> try:
    ...     check_bounds({"bags": [{}] * 501})
    ... except Refused as refused:
    ...     print(refused.problems[0].pointer, refused)
    /bags At most 500 of them at once; send the rest in another request.
    """
    waiting, values = [(data, "", "", 1)], 1
    while waiting:
        held, name, pointer, depth = waiting.pop()
        if not isinstance(held, dict | list):
            continue
        if depth > MOST_DEPTH:
            said = say("Nested in more than {most} levels.", most=MOST_DEPTH)
            raise Refused.because("nested-too-deep", said, pointer[:200])
        if isinstance(held, list):
            _check_list(held, name, pointer)
            inside = [(str(place), one) for place, one in enumerate(held)]
        else:
            _check_names(held, pointer)
            inside = list(held.items())
        values += len(inside)
        if values > MOST_VALUES:
            said = say("More than {most} values in one request; send a part.", most=MOST_VALUES)
            raise Refused.because("list-too-long", said)
        waiting += [
            (one, under, f"{pointer}/{_escaped(under)}", depth + 1)
            for under, one in inside
            if isinstance(one, dict | list)
        ]


def _check_list(held: list[Any], name: str, pointer: str) -> None:
    plain = not any(isinstance(one, dict | list) for one in held[: MOST_LISTED + 1])
    most = LONGER.get(name, MOST_PLAIN if plain else MOST_LISTED)
    if len(held) > most:
        said = say("At most {most} of them at once; send the rest in another request.", most=most)
        raise Refused.because("list-too-long", said, pointer[:200])


def _check_names(held: dict[str, Any], pointer: str) -> None:
    if len(held) > MOST_NAMES:
        said = say("At most {most} fields in one object.", most=MOST_NAMES)
        raise Refused.because("too-many-fields", said, pointer[:200])


def _escaped(name: str) -> str:
    return name[:60].replace("~", "~0").replace("/", "~1")
