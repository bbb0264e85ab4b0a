"""A sentence with values in it, that can be said again in another language."""

from __future__ import annotations

from typing import Any


class Said(str):
    """What was said, in English; with the pattern and the values it was made of.

    Attributes
    ----------
    pattern : str
        The sentence with named places, as ``str.format`` takes them.
    values : dict
        What stands in the places.
    """

    pattern: str
    values: dict[str, Any]


def say(pattern: str, **values: Any) -> Said:
    """Put values into a pattern, and remember both.

    Examples
    --------
    >>> said = say("Lot {lot} is {form}.", lot="F7-X", form="flake")
    >>> said, said.pattern
    ('Lot F7-X is flake.', 'Lot {lot} is {form}.')
    """
    said = Said(pattern.format(**values))
    said.pattern, said.values = pattern, values
    return said


def kept(text: str) -> Any:
    """Give a sentence as plain data, so that it can be said again later in another language.

    Examples
    --------
    >>> kept(say("Lot {lot}.", lot="F7-X"))
    {'pattern': 'Lot {lot}.', 'values': {'lot': 'F7-X'}}
    """
    if not isinstance(text, Said):
        return text
    return {"pattern": text.pattern, "values": {k: kept(v) for k, v in text.values.items()}}


def again(data: Any) -> Any:
    """Say what `kept` gave.

    Examples
    --------
    >>> again(kept(say("Lot {lot}.", lot="F7-X")))
    'Lot F7-X.'
    """
    if isinstance(data, dict):
        return say(
            data["pattern"], **{name: again(value) for name, value in data["values"].items()}
        )
    return data
