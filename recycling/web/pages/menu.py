"""The menu: at most six entries, by what people come for, and fewer for who has no use for all."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from recycling.records.actors import Actor
from recycling.web.pages.read import link
from shared.roles import LEAD, OPERATOR, VIEWER

LABELS = {
    "today": _("Today"),
    "record": _("Record"),
    "stock": _("Stock"),
    "trace": pgettext_lazy("menu", "Trace"),
    "reports": _("Reports"),
    "set-up": _("Workshop"),
}
"""Entries in their order: the name of the page that each leads to, and its word."""

ENTRIES = {
    LEAD: ("today", "record", "stock", "trace", "reports", "set-up"),
    OPERATOR: ("today", "record", "stock", "trace"),
    VIEWER: ("today", "stock", "trace", "reports"),
}
ON_BAR = {LEAD: ("today", "record", "stock")}
"""What the bar of a phone holds beside the key that scans, where not all entries have room."""

BELONGS = {
    "outbox": "today",
    "spools": "stock",
    **dict.fromkeys(("find", "collections", "runs", "holds", "suspects"), "trace"),
    **dict.fromkeys(("balance", "energy"), "reports"),
    "machines": "set-up",
}
"""Place that a page says it is at → entry that it belongs to; any other is an entry by itself."""

OTHERWISE = {
    OPERATOR: {"reports": "trace", "set-up": "record"},
    VIEWER: {"record": "today", "set-up": "reports"},
}
"""Whose pages lead to an entry that is not in the menu of a role."""


@dataclass(frozen=True)
class Entry:
    """An entry of the menu.

    Attributes
    ----------
    key, label, url : str
        Name of its page, its word, and its address.
    current : str
        "page" where it is the page that is open, "true" where that page belongs to it; else empty.
    """

    key: str
    label: str
    url: str
    current: str


@dataclass(frozen=True)
class Menu:
    """What a person may choose from on any page.

    Attributes
    ----------
    entries, bar, more : tuple of Entry
        All; those that the bar of a phone shows; those behind its key "More".
    scan : Entry
        The key of the bar that scans a label.
    """

    entries: tuple[Entry, ...]
    bar: tuple[Entry, ...]
    more: tuple[Entry, ...]
    scan: Entry

    @property
    def in_more(self) -> bool:
        """Whether the current entry stands behind "More"."""
        return any(one.current for one in self.more)


def menu_of(actor: Actor, place: str, path: str) -> Menu:
    """Give an actor's menu on a page.

    Parameters
    ----------
    actor : Actor
        Who looks.
    place : str
        Where the page says it is.
    path : str
        Address of the page, without its query.
    """
    held = BELONGS.get(place, place)
    held = OTHERWISE.get(actor.role, {}).get(held, held)
    entries = tuple(_entry(actor, key, held, path) for key in ENTRIES[actor.role])
    first = ON_BAR.get(actor.role, ENTRIES[actor.role])
    address = link("find", actor)
    scan = Entry("find", str(_("Scan")), address, "page" if path == address else "")
    return Menu(
        entries,
        tuple(one for one in entries if one.key in first),
        tuple(one for one in entries if one.key not in first),
        scan,
    )


def _entry(actor: Actor, key: str, held: str, path: str) -> Entry:
    url = link(key, actor)
    current = "page" if path == url else "true" if key == held else ""
    return Entry(key, str(LABELS[key]), url, current)


@dataclass(frozen=True)
class Group:
    """Places that stand together on the page of an entry, under a heading."""

    title: str
    steps: tuple[dict[str, str], ...]


def group(actor: Actor, title: str, places: Iterable[tuple[str, str, str]]) -> Group:
    """Give a group of places: each the name of its page, its title and what it is for."""
    steps = (
        {"url": link(name, actor), "label": label, "note": note} for name, label, note in places
    )
    return Group(title, tuple(one for one in steps if one["url"]))


def report_groups(actor: Actor) -> list[Group]:
    """Give what shows how the figures of a report come about."""
    figures = [
        ("balance", _("Balance"), _("where the kilograms of a period went")),
        ("yields", _("Yields and losses"), _("of each step, run by run")),
        ("energy", _("Energy"), _("for each kilogram, with its cost and carbon")),
    ]
    checks = [
        ("closures", _("Runs to check"), _("runs in which mass is missing or too much")),
        ("weighing", _("Weighing"), _("how sure the scales are")),
        ("reconciliations", _("Reconciliation"), _("all weighings compared with one another")),
        ("audit", _("Audit"), _("the rules of the book, checked now")),
    ]
    return [
        _said(actor, _("Figures"), figures),
        _said(actor, _("Are they right?"), checks),
        _said(
            actor,
            _("For another system"),
            [("exports", _("Exports"), _("events and lineage in the forms of open standards"))],
        ),
    ]


def trace_groups(actor: Actor) -> list[Group]:
    """Give what answers where something is from, where it went, and what spoilt it."""
    past = [
        ("collections", _("Collections"), _("what came in, and what became of it")),
        ("runs", _("Runs"), _("what was done, with which machine")),
        ("spools", _("Spools"), _("each with the collections it is made of")),
        ("holds", _("On hold"), _("lots that may not be used")),
    ]
    cause = [
        ("suspects", _("What spoilt the spools"), _("what the bad ones have in common")),
        ("verdicts", _("Print results"), _("how each spool printed")),
        ("findings", _("Findings kept"), _("answers that were kept, with their data")),
    ]
    groups = [
        _said(actor, _("What came in, and what was made"), past),
        _said(actor, _("When prints go wrong"), cause),
    ]
    if "reports" in ENTRIES[actor.role]:
        return groups
    told = [("reports", _("Reports"), _("what the workshop tells others"))]
    return [*groups, *report_groups(actor)[:2], _said(actor, _("For others"), told)]


def beside(actor: Actor) -> Group:
    """Give what people at the bench look up while they record."""
    places = [
        ("runs", _("Runs"), _("recorded lately: correct one, or see how it balanced")),
        ("labels", _("Labels"), _("print them once more")),
        ("set-up", _("Machines and how the work is done"), _("a machine, limits, recipes")),
    ]
    return _said(actor, "", places)


def _said(actor: Actor, title: object, places: Iterable[tuple[str, object, object]]) -> Group:
    return group(actor, str(title), ((name, str(one), str(note)) for name, one, note in places))
