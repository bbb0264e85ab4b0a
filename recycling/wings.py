"""The wings of the house: what code is about, in the order in which one may know another.

A floor says what kind of line it is, a wing what it is about. On each floor a wing is one name: a
module while 300 lines hold it, a folder when they do not.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType


@dataclass(frozen=True)
class Wing:
    """A topic.

    Attributes
    ----------
    key : str
        Its name on every floor.
    about : str
        What is in it.
    """

    key: str
    about: str


WINGS = (
    Wing("people", "workshops, members, sign-in, keys, PINs, tablets, consent"),
    Wing("setup", "what entries refer to; how the workshop works: limits, windows, recipes"),
    Wing("lots", "what came in and where each gram is: origins, lots, stock, holds, postings"),
    Wing("balance", "how sure each mass is; closure, yield, statement, reconciliation"),
    Wing("runs", "a run recorded, open, logged, closed, corrected; its composition model"),
    Wing("energy", "machines, meters, logs, energy for each kilogram, tariffs, carbon"),
    Wing("process", "drying, changeover, purge before a shutdown; deviations"),
    Wing("quality", "verdicts, checks, particles, filament"),
    Wing("tuning", "like runs, and the wait after a change of settings"),
    Wing("suspects", "which collection spoilt the spool: exposure, ranking, findings"),
    Wing("labels", "labels, square codes, a spool's public page and address"),
    Wing("exchange", "EPCIS and PROV"),
    Wing("lists", "lists of what came in, read and looked through"),
    Wing("integrity", "archive, audit, outbox of jobs: nothing is lost unseen"),
    Wing("planning", "the day's page, the bench, plans"),
    Wing("reports", "what a workshop tells others, frozen"),
)
"""From the ground up: on its floor a wing may import those before it, never those after it."""


def urls_of(floor: str, room: str) -> ModuleType | None:
    """Import the module that holds the addresses of a room of a floor: its own, or that in it."""
    found = find_spec(f"{floor}.{room}")
    if found is None:
        return None
    inside = f"{floor}.{room}.urls"
    folder = found.submodule_search_locations is not None
    return import_module(inside if folder and find_spec(inside) else found.name)
