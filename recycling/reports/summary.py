"""The reader's page of a report: how much was collected and what became of it."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.calc.reports.diversion import Counter
from recycling.ledger.models import PROCESS
from recycling.records.balance.balance import Statement
from recycling.records.reports.documents import FLOWS, MASS, NUMBER, Drawing, Fact, Section, Table
from recycling.reports.cohort import cohort_of_period, product_lines
from recycling.reports.cohort import whole as whole_mg
from recycling.reports.counters import Counts
from recycling.reports.covered import covered_fact
from recycling.reports.fates import Followed
from recycling.reports.givers import Givers
from recycling.reports.movements import Movements
from recycling.reports.places import (
    PLACES,
    ROLE_OF_PLACE,
    SPOOLS,
    UNPROCESSED,
    Places,
    account_title,
    mass,
    place_title,
    said_mass,
    words,
)
from recycling.reports.statement import counter_title, counter_words
from recycling.stages.declaration import SIDE, UNACCOUNTED

Row = tuple[str, str, int, str]
FIRST_PAGE = ("made_good", "taken_back", "good", "failed", "not_judged", "held")
"""Lines of the products that a reader of the first page is told."""


def summary_section(
    found: Movements,
    counts: Counts,
    whole: Statement,
    places: Places,
    givers: Givers,
    told: Followed,
) -> Section:
    """Say in a sentence, in a picture and in key figures what this is all about."""
    table = flows_table(found, whole, places)
    return Section(
        "summary",
        _("In short"),
        tuple(summary_text(found, counts, whole, places, givers, told)),
        tuple(_facts(found, counts, whole, places, givers, told)),
        (table,),
        (flows_drawing(whole, places),) if table.rows else (),
    )


def flows_table(found: Movements, whole: Statement, places: Places) -> Table:
    """Put the flows in a table."""
    return Table(
        "flows",
        _("Where the mass came from and what became of it"),
        (
            words("from", _("From")),
            words("to", _("To")),
            mass("mass_mg", _("Mass")),
            words("role", _("Role")),
        ),
        tuple(flows(found, whole, places)),
    )


def flows_drawing(whole: Statement, places: Places) -> Drawing:
    """Draw the flows."""
    finding = _("{spools} is filament, {side} side streams, {waste} was discarded.").format(
        spools=said_mass(places.dispatched[SPOOLS] + places.closing[SPOOLS]),
        side=said_mass(places.dispatched[SIDE] + places.closing[SIDE]),
        waste=said_mass(whole.discarded_mg),
    )
    return Drawing(
        "flows",
        FLOWS,
        finding,
        _("Flows from what was there and came in to where it is now; the table has the numbers."),
        "flows",
        "from",
        ("mass_mg",),
        target="to",
        style="role",
    )


def summary_text(
    found: Movements,
    counts: Counts,
    whole: Statement,
    places: Places,
    givers: Givers,
    told: Followed,
) -> Iterator[str]:
    """Yield the paragraphs: what happened, what is left over, and what limits the figures."""
    scope = found.scope
    if not found.inside:
        yield _("Nothing was recorded in this period; the stock is what it was before it.")
    else:
        yield ngettext(
            "{mass} was collected in {number} collection.",
            "{mass} was collected in {number} collections.",
            givers.collections,
        ).format(mass=said_mass(counts.total(Counter.COLLECTED).mass_mg), number=givers.collections)
        lines = {key: mass_mg for key, _title, mass_mg in product_lines(found, told)}
        yield _(
            "{made} became good product in the period and {back} was taken back. At its end {good}"
            " is within limits, {failed} outside limits, {open} not decided and {held} on hold."
        ).format(
            made=said_mass(lines["made_good"]),
            back=said_mass(-lines["taken_back"]),
            good=said_mass(lines["good"]),
            failed=said_mass(lines["failed"]),
            open=said_mass(lines["not_judged"]),
            held=said_mass(lines["held"]),
        )
        yield from _of_collected(found, told)
        yield _(
            "{given} of filament was given out. {side} of side streams was handed on, {waste} was"
            " discarded, {lost} was lost in ways that were measured, {unaccounted} is unaccounted"
            " for, and {stock} is still here."
        ).format(
            given=said_mass(places.dispatched[SPOOLS]),
            side=said_mass(places.dispatched[SIDE]),
            waste=said_mass(whole.discarded_mg),
            lost=said_mass(sum(whole.losses_mg.values())),
            unaccounted=said_mass(whole.unaccounted_mg),
            stock=said_mass(whole.closing_mg + whole.in_process_mg),
        )
    yield _("All that follows this summary is its annex.")
    if scope.end > scope.now:
        yield _("The period was not over when this was read: it is an interim report.")
    if scope.question.note:
        yield scope.question.note


def _of_collected(found: Movements, told: Followed) -> Iterator[str]:
    """Say what became of the grams collected in the period; a share is of these alone."""
    mine, last = cohort_of_period(found, told), len(found.scope.cuts) - 1
    collected = told.fates.upto["collected"][last] @ mine
    if collected <= 0:
        return
    yield _(
        "Of what was collected in the period, {melted} entered the melt by its end, {good} is good"
        " product and {waiting} waits here, never melted."
    ).format(
        melted=said_mass(whole_mg(told.fates.upto["entered_melt"][last] @ mine)),
        good=said_mass(whole_mg(told.fates.good(last) @ mine)),
        waiting=said_mass(whole_mg(told.fates.at["unmelted"][last] @ mine)),
    )


def _facts(
    found: Movements,
    counts: Counts,
    whole: Statement,
    places: Places,
    givers: Givers,
    told: Followed,
) -> Iterator[Fact]:
    chosen = Counter(found.scope.question.counts_as)
    diverted = counts.total(chosen)
    collected = counts.total(Counter.COLLECTED)
    title = _("Collected")
    yield covered_fact("collected_mg", title, collected.measured, MASS, how=collected.how)
    note = f"{counter_title(chosen)}: {counter_words(chosen)}"
    yield covered_fact(
        "counted_as_diverted_mg",
        _("Diverted"),
        diverted.measured,
        MASS,
        how=diverted.how,
        note=note,
    )
    for key, title, mass_mg in product_lines(found, told):
        if key in FIRST_PAGE:
            yield Fact(f"{key}_mg", title, mass_mg, MASS, how="computed")
    yield _mass("filament_given_mg", _("Filament given out"), places.dispatched[SPOOLS])
    yield _mass("discarded_mg", _("Discarded as waste"), whole.discarded_mg)
    note = _("What closes the runs and counts; below zero is a gain.")
    yield _mass("unaccounted_mg", _("Unaccounted"), whole.unaccounted_mg, note)
    yield _mass("unprocessed_mg", _("Not yet processed"), places.closing[UNPROCESSED])
    yield Fact("collections", _("Collections"), givers.collections, NUMBER)
    yield Fact("sources", _("Sources"), givers.sources, NUMBER)
    people = found.scope.question.people_reached
    yield Fact(
        "people_reached",
        _("People reached"),
        people,
        NUMBER,
        how="typed",
        note="" if people is not None else _("Nobody counted."),
    )


def _mass(key: str, title: str, mass_mg: int, note: str = "") -> Fact:
    return Fact(key, title, mass_mg, MASS, how="mixed", note=note)


def flows(found: Movements, whole: Statement, places: Places) -> Iterator[Row]:
    """Yield what came in and what became of it; both sides add up to the same, exactly."""
    middle = found.scope.about or _("Workshop")
    for name, mass_mg in _came(whole, places):
        if mass_mg > 0:
            yield name, middle, mass_mg, "product"
    ends = []
    for place in PLACES:
        parts = [
            (_("Handed on"), places.dispatched[place]),
            (_("Discarded"), places.discarded[place]),
            (_("In stock"), places.closing[place]),
        ]
        role, title = ROLE_OF_PLACE[place], place_title(place)
        if (all_mg := sum(mass_mg for _name, mass_mg in parts)) > 0:
            yield middle, title, all_mg, role
        ends += [(title, name, mass_mg, role) for name, mass_mg in parts if mass_mg > 0]
    for name, mass_mg in [*whole.losses_mg.items(), (UNACCOUNTED, whole.unaccounted_mg)]:
        if mass_mg > 0:
            yield middle, account_title(name), mass_mg, "loss"
        elif mass_mg < 0:
            gained = _("Gained: {account}").format(account=account_title(name).lower())
            yield gained, middle, -mass_mg, "again"
    if whole.in_process_mg > 0:
        yield middle, account_title(PROCESS), whole.in_process_mg, "again"
    if whole.reclassified_mg < 0:
        yield middle, _("Rounding and traces"), -whole.reclassified_mg, "loss"
    yield from ends


def _came(whole: Statement, places: Places) -> list[tuple[str, int]]:
    return [
        (_("Opening stock"), whole.opening_mg),
        (_("Collections"), places.received["collection"]),
        (_("Purchases"), places.received["purchase"]),
        (_("Opening counts"), places.received["opening"]),
        (_("Rounding and traces"), whole.reclassified_mg),
    ]
