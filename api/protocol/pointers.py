"""Where a problem of an entry stands in the body that the entry was read from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from api.protocol.entries import WEIGHED_NOTE
from shared.errors import Refused


def pointed(refused: Refused, renamed: Mapping[str, str], body: Any) -> Refused:
    """Point every problem to the body; `renamed` maps beginnings of the entry's pointers."""
    refused.problems = tuple(
        replace(problem, pointer=place_in(body, begun_anew(problem.pointer, renamed)))
        for problem in refused.problems
    )
    return refused


def begun_anew(pointer: str, renamed: Mapping[str, str]) -> str:
    """Give a pointer of the entry as the body begins it."""
    for ours, theirs in renamed.items():
        if pointer == ours or pointer.startswith(f"{ours}/"):
            return theirs + pointer[len(ours) :]
    return pointer


def place_in(body: Any, pointer: str) -> str:
    """Find the name that the body uses for what a pointer means.

    >>> place_in({"bags": [{"gross": "1 kg"}]}, "/bags/0/weighing/gross_mg")
    '/bags/0/gross'
    """
    pointer = pointer.replace("/weighing/note", f"/{WEIGHED_NOTE}").replace("/weighing", "")
    holder, _, name = pointer.rpartition("/")
    for part in holder.split("/")[1:]:
        try:
            body = body[int(part)] if isinstance(body, list) else body[part]
        except (LookupError, TypeError, ValueError):
            return pointer
    if not isinstance(body, dict) or name in body or not name.endswith("_mg"):
        return pointer
    short = name.removesuffix("_mg")
    others = (short, "gross_mg", "gross") if name == "mass_mg" else (short,)
    return f"{holder}/{next((other for other in others if other in body), name)}"
