"""One body, or a list of them, read for a deed that does all of them or none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from api.protocol.entries import read_entry
from shared.errors import Problem, Refused
from shared.said import say

MOST = 200


def read_entries(taken: type, body: Any) -> tuple[Any, ...]:
    """Read one body or each of a list; the pointers into a list begin with the place in it.

    Raises
    ------
    Refused
        With every problem of form.
    """
    if not isinstance(body, list):
        return (read_entry(taken, body),)
    if not 0 < len(body) <= MOST:
        raise Refused.because("list-length", say("Give from one to {most} of them.", most=MOST))
    entries: list[Any] = []
    problems: list[Problem] = []
    for place, one in enumerate(body):
        try:
            entries.append(read_entry(taken, one))
        except Refused as refused:
            problems += [replace(p, pointer=f"/{place}{p.pointer}") for p in refused.problems]
    if problems:
        raise Refused(*problems)
    return tuple(entries)


def places_in(body: Any, several: str) -> Mapping[str, str]:
    """Map the entry's list to the body, which is that list, or the only one in it."""
    return {several: ""} if isinstance(body, list) else {f"{several}/0": ""}
