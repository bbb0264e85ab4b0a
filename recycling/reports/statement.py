"""The statement of a report, closing to the milligram, and what was counted where."""

from __future__ import annotations

from django.utils.translation import gettext as _

from recycling.calc.reports.diversion import IN_WORDS, Counter
from recycling.queries.balance.balance import statement_of
from recycling.queries.balance.covered import covered
from recycling.records.balance.balance import Statement
from recycling.records.reports.documents import (
    MASS,
    TEXT,
    Cell,
    Column,
    Section,
    Table,
)
from recycling.reports.counted import Counted
from recycling.reports.counters import Counts
from recycling.reports.covered import covered_cells, covered_columns, covered_fact
from recycling.reports.movements import Movements
from recycling.reports.places import account_title, mass
from recycling.stages.declaration import LOSSES


def statements_of(found: Movements) -> list[Statement]:
    """Draw up the statement of each polymer, and last of all together."""
    sums = {key: (one[0], one[1]) for key, one in found.sums.items()}
    names = sorted({polymer for polymer, _account in sums})
    scope = found.scope
    each = [statement_of(name, scope.start, scope.end, sums, {name}) for name in names]
    return [*each, statement_of("", scope.start, scope.end, sums, set(names))]


def statement_section(found: Movements, statements: list[Statement]) -> Section:
    """Show the statement: what was there and came in equals what left, was lost and remains."""
    whole = found.scope.is_whole
    balancing = _("Between polymers") if whole else _("Between polymers, rounding and traces")
    columns = (
        Column("polymer", _("Polymer"), TEXT),
        mass("opening_mg", _("Opening stock")),
        mass("received_mg", _("Received")),
        mass("reclassified_mg", balancing),
        mass("dispatched_mg", _("Dispatched")),
        mass("discarded_mg", _("Discarded")),
        *(mass(f"{loss}_mg", account_title(loss)) for loss in LOSSES),
        mass("unaccounted_mg", _("Unaccounted")),
        mass("closing_mg", _("Closing stock")),
        mass("in_process_mg", _("In open runs")),
    )
    rows = [_line(one) for one in statements]
    text = [
        _(
            "Opening stock and what was received, with what became of another polymer, equal"
            " what was dispatched, discarded, lost and unaccounted for, and what remains."
            " It closes to the milligram."
        )
    ]
    if not whole:
        text.append(
            _(
                "Lots hold material of several givers. What is shown is this one's part of each"
                " lot, by the composition that the book keeps; the parts of all givers and of"
                " the rest add up to the workshop's own statement exactly."
            )
        )
    return Section(
        "statement",
        _("Statement of the period"),
        tuple(text),
        tables=(
            Table(
                "statement",
                _("Where the mass came from and where it is, by polymer"),
                columns,
                tuple(rows[:-1]),
                rows[-1],
            ),
        ),
    )


def _line(one: Statement) -> tuple[Cell, ...]:
    assert one.difference_mg == 0, "a statement that does not close is no statement"
    return (
        one.polymer or _("All"),
        one.opening_mg,
        one.received_mg,
        one.reclassified_mg,
        one.dispatched_mg,
        one.discarded_mg,
        *(one.losses_mg[loss] for loss in LOSSES),
        one.unaccounted_mg,
        one.closing_mg,
        one.in_process_mg,
    )


def counter_title(counter: Counter) -> str:
    """Name a counter for people."""
    return {
        Counter.COLLECTED: _("Collected"),
        Counter.ACCEPTED: _("Accepted after sorting"),
        Counter.MELT: _("Entered the melt, dry"),
        Counter.PRODUCT: _("Good product"),
        Counter.DISPATCHED: _("Product dispatched"),
    }[counter]


def counter_words(counter: Counter) -> str:
    """Say what a counter counts."""
    return _(IN_WORDS[counter])


def counters_section(found: Movements, counts: Counts) -> Section:
    """Show the five counters, never one, and which of them this report counts as diverted."""
    chosen = Counter(found.scope.question.counts_as)
    totals = {counter: counts.total(counter) for counter in Counter}
    text = [
        _("This report counts as diverted: {counter}. {words}").format(
            counter=counter_title(chosen).lower(), words=counter_words(chosen)
        ),
        _(
            "Each figure is a flow of the period: what was melted or made may come from stock. What"
            " entered the melt is counted at the calculation point of Commission Implementing"
            " Decision (EU) 2019/665: flake that is not processed further before it is extruded."
        ),
        _(
            "Only material from collections is counted; what was bought, or was there before the"
            " book, stands in a column of its own. Burning for energy is not diversion."
        ),
    ]
    if wet_mg := totals[Counter.MELT].unknown_moisture_mg:
        text.append(
            _(
                "{grams} g of what entered the melt is counted as weighed, because its moisture"
                " was not noted."
            ).format(grams=f"{wet_mg / 1000:g}")
        )
    facts = [
        covered_fact(
            "diverted_mg",
            _("Diverted from waste"),
            totals[chosen].measured,
            MASS,
            how=totals[chosen].how,
            note=f"{counter_title(chosen)}: {counter_words(chosen)}",
        ),
    ]
    return Section(
        "counters",
        _("What was diverted"),
        tuple(text),
        tuple(facts),
        (_totals_table(totals), _by_polymer(counts)),
    )


def _columns() -> tuple[Column, ...]:
    return (
        Column("weighed_mg", _("Weighed"), MASS, how="weighed"),
        Column("estimated_mg", _("Counted or estimated"), MASS, how="estimated"),
        Column("mass_mg", _("Together"), MASS, how="computed"),
        *covered_columns("mg", MASS),
        Column("other_mg", _("Not from collections"), MASS, how="mixed"),
    )


def _cells(one: Counted) -> tuple[Cell, ...]:
    sure = covered_cells(covered(one.measured), MASS)
    return (one.weighed_mg, one.estimated_mg, one.mass_mg, *sure, one.other_mg)


def _totals_table(totals: dict[Counter, Counted]) -> Table:
    columns = (
        Column("counter", _("Counted"), TEXT),
        *_columns(),
        Column("words", _("What is counted"), TEXT),
    )
    rows = [(counter_title(one), *_cells(totals[one]), counter_words(one)) for one in Counter]
    return Table("counters", _("The five counters, all polymers"), columns, tuple(rows))


def _by_polymer(counts: Counts) -> Table:
    columns = (
        Column("counter", _("Counted"), TEXT),
        Column("polymer", _("Polymer"), TEXT),
        *_columns(),
    )
    order = list(Counter)
    lines = sorted(counts.by_polymer, key=lambda key: (order.index(key[0]), key[1]))
    rows = [(counter_title(key[0]), key[1], *_cells(counts.by_polymer[key])) for key in lines]
    return Table("counters_by_polymer", _("The five counters by polymer"), columns, tuple(rows))
