"""Thanks to a source on one page: what was given, what it became, and what is still here."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.calc.reports.diversion import Counter
from recycling.records.balance.balance import Statement
from recycling.records.reports.documents import (
    DAY,
    MASS,
    NUMBER,
    Cell,
    Column,
    Fact,
    Section,
    Table,
)
from recycling.reports.counters import Counts
from recycling.reports.covered import covered_fact
from recycling.reports.givers import Givers
from recycling.reports.movements import Movements
from recycling.reports.places import SPOOLS, UNPROCESSED, Places, mass, said_mass, words
from recycling.reports.scope import Scope
from recycling.reports.spools import spools_made
from recycling.reports.summary import flows_drawing, flows_table
from recycling.stages.declaration import SIDE, WASTE
from shared.measured import Measured

MOST_SPOOLS = 12
"""So many spools are listed one by one, so that the page stays one page."""


def thanks_section(
    found: Movements, counts: Counts, whole: Statement, places: Places, givers: Givers
) -> Section:
    """Say all of it on one page."""
    table = flows_table(found, whole, places)
    spools = _spools(found)
    return Section(
        "thanks",
        _("What became of what you gave"),
        tuple(_text(found, whole, places, givers)),
        tuple(_facts(counts, whole, places, givers)),
        (table, *([_spool_table(spools)] if spools else [])),
        (flows_drawing(whole, places),) if table.rows else (),
    )


def _text(found: Movements, whole: Statement, places: Places, givers: Givers) -> Iterator[str]:
    scope = found.scope
    yield _("Thank you!")
    yield from _what_came(scope, whole, givers)
    if givers.collections or whole.opening_mg:
        yield from _what_it_became(whole, places)
    if scope.end > scope.now:
        yield _("The period was not over when this was read: it is an interim report.")
    if scope.question.note:
        yield scope.question.note


def _what_came(scope: Scope, whole: Statement, givers: Givers) -> Iterator[str]:
    if givers.collections:
        yield ngettext(
            "From {first} to {last} you brought {mass} in {number} collection.",
            "From {first} to {last} you brought {mass} in {number} collections.",
            givers.collections,
        ).format(
            first=date_format(scope.question.from_date, "DATE_FORMAT"),
            last=date_format(scope.question.to_date, "DATE_FORMAT"),
            mass=said_mass(whole.received_mg),
            number=givers.collections,
        )
    elif whole.opening_mg:
        yield _("Nothing was handed over in this period; this is what became of earlier gifts.")
    else:
        yield _("Nothing was handed over in this period, and nothing of yours was here before it.")
    if whole.opening_mg:
        yield _(
            "{mass} of what you had brought before was still here when the period began; it is told"
            " of below too."
        ).format(mass=said_mass(whole.opening_mg))


def _what_it_became(whole: Statement, places: Places) -> Iterator[str]:
    yield _(
        "{product} of yours is filament for 3D printing, of which {given} was given out for use in"
        " this period. {waiting} still waits to be worked, {work} is on its way to become"
        " something, {side} are side streams such as caps, {kept} is waste not yet given away, and"
        " {waste} was discarded."
    ).format(
        product=said_mass(_became(places, SPOOLS)),
        given=said_mass(places.dispatched[SPOOLS]),
        waiting=said_mass(places.closing[UNPROCESSED]),
        work=said_mass(_waiting(whole, places) - places.closing[UNPROCESSED]),
        side=said_mass(_became(places, SIDE)),
        kept=said_mass(places.closing[WASTE]),
        waste=said_mass(whole.discarded_mg),
    )
    if handed_mg := _handed_on(whole, places):
        yield _("{mass} was handed on as it was, to be worked elsewhere.").format(
            mass=said_mass(handed_mg)
        )
    yield _(
        "{lost} went as water, residue, dust or fumes. We cannot say where {unaccounted} went,"
        " and rather tell you so."
    ).format(
        lost=said_mass(sum(whole.losses_mg.values())),
        unaccounted=said_mass(whole.unaccounted_mg),
    )


def _facts(counts: Counts, whole: Statement, places: Places, givers: Givers) -> Iterator[Fact]:
    """Yield what was there and came in, then what became of it; both add up to the same."""
    given = counts.total(Counter.COLLECTED)
    lines = (
        ("opening_mg", _("Of yours, here when the period began"), whole.opening_mg),
        ("collected_mg", _("You gave"), whole.received_mg),
        ("filament_mg", _("Filament, given out or still here"), _became(places, SPOOLS)),
        ("stock_mg", _("Still here, to become something"), _waiting(whole, places)),
        ("waste_mg", _("Waste still here, not yet given away"), places.closing[WASTE]),
        ("side_mg", _("Side streams, handed on or still here"), _became(places, SIDE)),
        ("handed_on_mg", _("Handed on otherwise"), _handed_on(whole, places)),
        ("discarded_mg", _("Discarded as waste"), whole.discarded_mg),
        ("lost_mg", _("Measured losses"), sum(whole.losses_mg.values())),
        ("unaccounted_mg", _("Unaccounted"), whole.unaccounted_mg),
        ("rounding_mg", _("Rounding and traces"), -whole.reclassified_mg),
    )
    for key, title, mass_mg in lines:
        if key == "collected_mg":
            sure = Measured.of(mass_mg, given.parts)
            yield covered_fact(key, title, sure, MASS, how=given.how)
        else:
            yield Fact(key, title, mass_mg, MASS, how="mixed")
    yield Fact("collections", _("Collections"), givers.collections, NUMBER)


def _became(places: Places, place: str) -> int:
    return places.dispatched[place] + places.closing[place]


def _waiting(whole: Statement, places: Places) -> int:
    """Add up what is here and in open runs at the end and may still become something."""
    done_mg = sum(places.closing[place] for place in (SPOOLS, SIDE, WASTE))
    return whole.closing_mg + whole.in_process_mg - done_mg


def _handed_on(whole: Statement, places: Places) -> int:
    return whole.dispatched_mg - places.dispatched[SPOOLS] - places.dispatched[SIDE]


def _spools(found: Movements) -> list[tuple[Cell, ...]]:
    """List spools made in the period that hold some of it, the largest part first."""
    made = sorted(spools_made(found), key=lambda row: (-row[0].mass_mg, row[1].code))
    return [(lot.code, lot.polymer, day, lot.made_mg, one.mass_mg) for one, lot, day in made]


def _spool_table(rows: list[tuple[Cell, ...]]) -> Table:
    listed = rows[:MOST_SPOOLS]
    if rest := rows[MOST_SPOOLS:]:
        others = ngettext("{number} other spool", "{number} other spools", len(rest))
        sums = [sum(int(row[place] or 0) for row in rest) for place in (3, 4)]
        listed = [*listed, (others.format(number=len(rest)), "", None, *sums)]
    return Table(
        "spools",
        _("Spools made in the period with some of yours"),
        (
            words("spool", _("Spool")),
            words("polymer", _("Polymer")),
            Column("made_day", _("Made"), DAY),
            mass("spool_mg", _("Mass of the spool")),
            mass("part_mg", _("Yours in it"), "computed"),
        ),
        tuple(listed),
        (_("All"), "", None, *(sum(int(row[place] or 0) for row in rows) for place in (3, 4))),
    )
