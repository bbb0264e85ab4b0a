"""What the schema of EPCIS lets pass and this service does not send."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

LISTS = ("quantityList", "inputQuantityList", "outputQuantityList", "childQuantityList")
OCCURRED_NOT, INCORRECT = "did_not_occur", "incorrect_data"

Event = dict[str, Any]


class NotSent(ValueError):
    """An event that would say something impossible."""


def checked(event: Event) -> Event:
    """Give an event back, or say what is wrong with it.

    Raises
    ------
    NotSent
        When a quantity is zero or below, a thing stands twice in one list, or an error
        declaration names what corrects an event that did not occur, or does not name what
        corrects one that was incorrect.

    Examples
    --------
    >>> checked({"quantityList": [{"epcClass": "urn:x", "quantity": 0, "uom": "KGM"}]})
    Traceback (most recent call last):
    ...
    recycling.tables.exchange.epcis_checks.NotSent: quantityList: 0 of urn:x is no quantity
    """
    for wrong in _wrong(event):
        raise NotSent(wrong)
    return event


def _wrong(event: Event) -> Iterator[str]:
    for name in LISTS:
        seen = set()
        for one in event.get(name, ()):
            thing, quantity = one["epcClass"], one.get("quantity")
            if quantity is not None and quantity <= 0:
                yield f"{name}: {quantity} of {thing} is no quantity"
            if thing in seen:
                yield f"{name}: {thing} stands there twice"
            seen.add(thing)
    declared = event.get("errorDeclaration")
    if declared:
        reason, right = declared.get("reason"), declared.get("correctiveEventIDs")
        if reason == OCCURRED_NOT and right:
            yield "what did not occur has nothing that corrects it"
        if reason == INCORRECT and not right:
            yield "what was incorrect needs what corrects it"
        if right and event.get("eventID") in right:
            yield "an event does not correct itself"
