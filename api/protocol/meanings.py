"""What each field means, read from the records' own docstrings, so that it is said once."""

from __future__ import annotations

import functools
import inspect
import re

_FIELD = re.compile(r"^(?P<names>\w+(?:, \w+)*)(?: : .+)?$")


@functools.cache
def meanings(record: type) -> dict[str, str]:
    """Map the attributes that NumPy-style docstrings explain to their explanations.

    >>> from recycling.records.lots.mass_entries import HeelEntry
    >>> meanings(HeelEntry)["mass_mg"]
    'Mass in mg.'
    """
    said: dict[str, str] = {}
    for base in reversed(record.__mro__):
        said |= _explained(inspect.cleandoc(base.__dict__.get("__doc__") or ""))
    return said


def _explained(doc: str) -> dict[str, str]:
    said: dict[str, list[str]] = {}
    current: list[str] = []
    for line in doc.partition("Attributes\n----------\n")[2].splitlines():
        match = _FIELD.match(line)
        if match:
            current = []
            said |= dict.fromkeys(match["names"].split(", "), current)
        elif line.strip():
            current.append(line.strip())
    return {name: " ".join(lines) for name, lines in said.items()}


def purpose(record: type) -> str:
    """Return what a record's docstring says before its attributes, on one line."""
    doc = inspect.cleandoc(record.__doc__ or "").partition("Attributes\n---")[0]
    return " ".join(doc.split())
