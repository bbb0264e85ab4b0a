"""What each field means, read from its declaration or the record's docstring: said once."""

from __future__ import annotations

import functools
import inspect
import re
from dataclasses import is_dataclass

from shared.declared import declared_in

_FIELD = re.compile(r"^(?P<names>\w+(?:, \w+)*)(?: : .+)?$")


@functools.cache
def meanings(record: type) -> dict[str, str]:
    """Map what declarations and NumPy-style docstrings explain to the explanations.

    >>> from recycling.records.lots.mass_entries import HeelEntry
    >>> meanings(HeelEntry)["mass_mg"]
    'Mass in mg.'
    """
    said: dict[str, str] = {}
    for base in reversed(record.__mro__):
        said |= _explained(inspect.cleandoc(base.__dict__.get("__doc__") or ""))
        if is_dataclass(base):
            own = base.__dict__.get("__annotations__", {})
            said |= {name: one.means for name, one in declared_in(base).items() if name in own}
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
