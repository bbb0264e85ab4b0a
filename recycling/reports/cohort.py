"""What became of the grams that were collected, and how good what was made of them is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _

from recycling.calc.reports.fate_records import Vector
from recycling.records.reports.documents import SHARE, Cell, Fact, Section, Table
from recycling.reports.fates import (
    ABOVE,
    BELOW,
    BOUGHT,
    NOT_STATED,
    OWN,
    POST,
    PRE,
    UNKNOWN,
    VIRGIN,
    Followed,
)
from recycling.reports.movements import Movements
from recycling.reports.places import mass, words

STATES = ("good", "failed", "not_judged", "held")
FATES = (
    "unmelted",
    *STATES,
    "given_good",
    "given_not_good",
    "melted",
    "heel",
    "side",
    "given_other",
    "discarded",
    "lost",
    "unaccounted",
    "inside",
)


def fate_title(name: str) -> str:
    """Name a fate of a gram for people."""
    return {
        "unmelted": _("Here, never melted"),
        "good": _("Here, within limits"),
        "failed": _("Here, outside limits"),
        "not_judged": _("Here, not decided"),
        "held": _("Here, on hold"),
        "given_good": _("Given out, within limits"),
        "given_not_good": _("Given out, not within limits"),
        "melted": _("Here, melted scrap and material in work"),
        "heel": _("Here, left in the barrel"),
        "side": _("Here, side streams and waste"),
        "given_other": _("Handed on otherwise"),
        "discarded": _("Discarded"),
        "lost": _("Measured losses"),
        "unaccounted": _("Unaccounted"),
        "inside": _("In open runs"),
    }[name]


def whole(mass_mg: Any) -> int:
    """Round a mass to whole milligrams."""
    return round(float(mass_mg))


def own_cohorts(found: Movements, told: Followed) -> list[tuple[str, Vector]]:
    """Name each month of the report that something was collected in, with its columns."""
    months = range(1, len(found.scope.cuts))
    each = [(found.scope.month(cut - 1), told.where(OWN, cuts=[cut])) for cut in months]
    return [(name, mine) for name, mine in each if told.fates.upto["collected"][-1] @ mine > 0]


def cohort_of_period(found: Movements, told: Followed) -> Vector:
    """Choose the columns of all that was collected in the period."""
    return told.where(OWN, cuts=list(range(1, len(found.scope.cuts))))


def cohort_section(found: Movements, told: Followed) -> Section:
    """Follow what was collected in the period to its end; only here a share is of the same grams.

    The flow of the good product stands beside it, and how it is composed by ISO 14021.
    """
    text = (
        _(
            "Two views. The flow counts what happened in the period, from stock too; none of its"
            " figures is a share of another. The cohort follows the grams that were collected in"
            " the period to its end; each of its figures is a part of what was collected."
        ),
        _(
            "A product is within limits when every needed check that the workshop declares says"
            " so and no bad result stands unanswered; not decided until then. On hold comes before"
            " that. Nothing is within limits by default, and nothing that is melted twice counts"
            " twice: these are the rules of counting no. 2."
        ),
    )
    return Section(
        "cohort",
        _("What became of what was collected, and what is good"),
        text,
        tuple(_facts(found, told)),
        tuple(
            one
            for one in (_cohort_table(found, told), _product_table(found, told), _classes(told))
            if one.rows
        ),
    )


def _facts(found: Movements, told: Followed) -> Iterator[Fact]:
    mine = cohort_of_period(found, told)
    collected = told.fates.upto["collected"][-1] @ mine
    melted = told.fates.upto["entered_melt"][-1] @ mine
    good = told.fates.good(len(found.scope.cuts) - 1) @ mine
    shares = (
        ("melt_of_collected_share", _("Entered the melt of what was collected"), melted, collected),
        ("product_of_melt_share", _("Good product of what entered the melt"), good, melted),
        ("product_of_collected_share", _("Good product of what was collected"), good, collected),
    )
    note = _("Of the grams collected in the period, up to its end.")
    for key, title, part, all_mg in shares:
        if all_mg > 0:
            value = min(max(float(part / all_mg), 0.0), 1.0)
            yield Fact(key, title, value, SHARE, how="computed", note=note)


def _cohort_table(found: Movements, told: Followed) -> Table:
    columns = (
        words("month", _("Collected in")),
        mass("collected_mg", _("Collected"), "computed"),
        mass("entered_melt_mg", _("Entered the melt, with its moisture"), "computed"),
        mass("product_mg", _("Good product"), "computed"),
        *(mass(f"{name}_mg", fate_title(name), "computed") for name in FATES),
    )
    last = len(found.scope.cuts) - 1
    rows: list[tuple[Cell, ...]] = []
    for name, mine in own_cohorts(found, told):
        rows.append((name, *_cohort_row(told, mine, last)))
    sums = [sum(int(row[place] or 0) for row in rows) for place in range(1, len(columns))]
    caption = _("Grams collected in each month, and where they are at the end of the period")
    return Table("cohort", caption, columns, tuple(rows), (_("All"), *sums))


def _cohort_row(told: Followed, mine: Vector, last: int) -> list[int]:
    """Give a row of whole milligrams; its fates add up to what was collected exactly."""
    collected = whole(told.fates.upto["collected"][last] @ mine)
    at = {name: whole(told.fates.at[name][last] @ mine) for name in FATES}
    at["unaccounted"] += collected - sum(at.values())
    melted = whole(told.fates.upto["entered_melt"][last] @ mine)
    return [collected, melted, at["good"] + at["given_good"], *(at[name] for name in FATES)]


def product_lines(found: Movements, told: Followed) -> list[tuple[str, str, int]]:
    """List the flow of products: key, title and mass, mg, of all that the report follows."""
    told_of = _followed_columns(found, told)
    fates, last = told.fates, len(found.scope.cuts) - 1
    flow = {name: whole(fates.flow(name, 0, last) @ told_of) for name in fates.upto}
    at = {name: whole(masses[last] @ told_of) for name, masses in fates.at.items()}
    return [
        ("good_at_start", _("Good product at the start"), whole(fates.good(0) @ told_of)),
        ("made_good", _("Became good"), whole(fates.made_good(0, last) @ told_of)),
        ("taken_back", _("Taken back"), -whole(fates.taken_back(0, last) @ told_of)),
        ("good_at_end", _("Good product at the end"), whole(fates.good(last) @ told_of)),
        ("made", _("Products made, melted again or not"), flow["made"]),
        ("winding_waste", _("Winding waste"), flow["winding_waste"]),
        ("fed_again", _("Products ground or melted again"), flow["fed_again"]),
        *((name, fate_title(name), at[name]) for name in STATES),
        ("given_good", fate_title("given_good"), at["given_good"]),
        ("given_not_good", fate_title("given_not_good"), at["given_not_good"]),
    ]


def _followed_columns(found: Movements, told: Followed) -> Vector:
    if found.scope.is_whole:
        return told.where(BOUGHT, BELOW, OWN, ABOVE) + told.gain
    return told.where(OWN)


def _product_table(found: Movements, told: Followed) -> Table:
    rows = tuple((title, mass_mg) for _key, title, mass_mg in product_lines(found, told))
    if not any(row[1] for row in rows):
        rows = ()
    columns = (words("line", _("What")), mass("mass_mg", _("Mass"), "computed"))
    return Table("products", _("Products: what happened, and how good they are"), columns, rows)


def _classes(told: Followed) -> Table:
    good = told.fates.good(-1)
    everyone = (BELOW, OWN, ABOVE, BOUGHT)
    lines = [
        (_("Post-consumer material"), good @ told.where(*everyone, kinds=[POST])),
        (_("Pre-consumer material"), good @ told.where(*everyone, kinds=[PRE])),
        (_("Collected, class not stated"), good @ told.where(*everyone, kinds=[NOT_STATED])),
        (_("Bought, counted as virgin"), good @ told.where(*everyone, kinds=[VIRGIN])),
        (
            _("There before the book, or gained: counted as not recycled"),
            good @ (told.where(*everyone, kinds=[UNKNOWN]) + told.gain),
        ),
    ]
    rows: list[tuple[Cell, ...]] = [(title, whole(part)) for title, part in lines]
    all_mg = sum(int(row[1] or 0) for row in rows)
    return Table(
        "good_by_class",
        _("Good product at the end, by the classes of ISO 14021, 7.8.1.1"),
        (words("class", _("What it came from")), mass("mass_mg", _("Mass"), "computed")),
        tuple(rows) if all_mg else (),
        (_("All"), all_mg),
    )
