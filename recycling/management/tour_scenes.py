"""What the tour shows: a page, how to come to it, and what is to be seen there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

PHONE, DESK = "phone", "desk"
Step = Callable[[Any], None]


@dataclass(frozen=True)
class Scene:
    """One picture.

    Attributes
    ----------
    key, title, words, alt : str
        Name of the file, heading, what it shows, and the same for whoever cannot see it.
    path : str
        Address within the workshop, where the steps begin.
    steps : tuple of callables
        What to press, each given the browser's page.
    device, scheme : str
        ``phone`` or ``desk``; ``light`` or ``dark``.
    whole : bool
        The whole page, not only the first screen.
    """

    key: str
    title: str
    words: str
    alt: str
    path: str
    steps: tuple[Step, ...] = ()
    device: str = DESK
    scheme: str = "light"
    whole: bool = False


def follow(selector: str) -> Step:
    """Follow the first link that a selector finds."""
    return lambda page: page.locator(selector).first.click()


def show(selector: str) -> Step:
    """Scroll the first thing that a selector finds to the top."""
    return lambda page: page.locator(selector).first.evaluate("one => one.scrollIntoView()")


def press(label: str) -> Step:
    """Press the button or link of this name."""
    return lambda page: (
        page.get_by_role("button", name=label)
        .or_(page.get_by_role("link", name=label))
        .first.click()
    )


def wait_for(selector: str) -> Step:
    """Wait until something is on the page."""
    return lambda page: page.locator(selector).first.wait_for(timeout=120_000)


def tick_the_first(count: int) -> Step:
    """Tick so many boxes."""

    def ticked(page: Any) -> None:
        boxes = page.locator("main input[type=checkbox]")
        for place in range(min(count, boxes.count())):
            boxes.nth(place).check()

    return ticked


SPOOL = follow("main table a[href*='/lots/']")
COLLECTION = follow("main table a[href*='/collections/']")
RUN = follow("main a[href*='/runs/R']")

SCENES = (
    Scene(
        "today",
        "The day at a glance",
        "What to record next, open runs with their clocks, what waits, holds.",
        "The day's page on a phone.",
        "",
        device=PHONE,
    ),
    Scene(
        "collection",
        "Weigh in a donation",
        "Who gave, each bag's mass with its tare by one tap, and how sure the net mass is.",
        "The page that records a collection, on a phone.",
        "collections/new/",
        steps=(show("main form"),),
        device=PHONE,
    ),
    Scene(
        "open_run",
        "A run as it happens",
        "The clock, what is in process, the wait after a change, one tap to each entry of the log.",
        "The page of an open extrusion on a phone in dark colours.",
        "",
        steps=(RUN,),
        device=PHONE,
        scheme="dark",
    ),
    Scene(
        "sort",
        "Record a stage from paper",
        "What goes in, what comes out, what was lost. Cautions come first, and a sentence says"
        " what will be recorded before it is.",
        "The page that records sorting, on a phone.",
        "record/sort/",
        device=PHONE,
    ),
    Scene(
        "labels",
        "Labels",
        "A square code, a code large enough to be said aloud, the shape of the form; on common"
        " sheets or single labels.",
        "A sheet of labels with square codes.",
        "labels/",
        steps=(
            tick_the_first(15),
            press("Lay out the labels"),
            show("main img, main object, main svg"),
        ),
    ),
    Scene(
        "spool",
        "Where a spool comes from",
        "Each source's grams, the chain of custody it can claim, and the run that made it.",
        "The page of a spool with its origins.",
        "spools/",
        steps=(SPOOL, show("h2:has-text('made of')")),
    ),
    Scene(
        "fate",
        "What became of a collection",
        "To the last gram: in spools, in stock, side streams, waste, losses, unaccounted.",
        "The page of a collection with a bar for each place its mass went.",
        "collections/",
        steps=(COLLECTION, show("h2:has-text('became')")),
    ),
    Scene(
        "balance",
        "The balance of a period",
        "Every stage with its yield and what is unaccounted, and a statement that closes to the"
        " milligram.",
        "The balance page with its table of stages.",
        "balance/",
        steps=(show("main table"),),
    ),
    Scene(
        "suspects",
        "What bad spools have in common",
        "A suspicion with its grounds, never a proof; and the spool whose verdict would tell"
        " the most.",
        "The page of suspects in dark colours.",
        "suspects/",
        steps=(show("main table"),),
        scheme="dark",
    ),
    Scene(
        "energy",
        "Energy of each kilogram",
        "From meters, power logs or rated power, with how much of the time the logs cover.",
        "The energy page with kilowatt-hours for each kilogram by stage.",
        "energy/",
        steps=(show("main table"),),
    ),
    Scene(
        "report",
        "A report that can be verified",
        "Frozen with a number and a digest, as PDF, spreadsheet, CSV and JSON; it never changes.",
        "The first page of a frozen report.",
        "reports/",
        steps=(
            follow("main a[href*='/reports/new/']"),
            press("Make it"),
            wait_for("main h2:has-text('In short')"),
            show("main h2:has-text('In short')"),
        ),
    ),
)
