"""Spools that were made and given in a report's period, with what they hold."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _

from recycling.calc.lots.custody import CONTROLLED_BLENDING, IDENTITY_PRESERVED, SEGREGATED, claim
from recycling.calc.reports.diversion import Counter, recycled_content
from recycling.records.reports.documents import (
    DAY,
    NUMBER,
    SHARE,
    Cell,
    Column,
    Fact,
    Section,
    Table,
)
from recycling.reports.counters import Counts
from recycling.reports.covered import covered_fact
from recycling.reports.left import NOT_NAMED, Destinations
from recycling.reports.movements import LotRow, Movement, Movements
from recycling.reports.places import border_of, mass, words
from recycling.stages.declaration import DISPATCHED, RECEIVED

KINDS = (IDENTITY_PRESERVED, SEGREGATED, CONTROLLED_BLENDING)


@dataclass(frozen=True)
class Content:
    """What a lot holds: mass from collections, mg, and the custody model that it can claim."""

    collected_mg: int
    custody: str


def contents_of(found: Movements) -> dict[int, Content]:
    """Say what filament holds of runs that went on in the period, some beyond its ends."""
    contents = {}
    for lot_id, held in found.held.items():
        run = found.runs.get(found.lots[lot_id].maker)
        if run is None or run.ended_at and run.ended_at < found.scope.start:
            continue
        kinds = ["collection"] * held.collections
        kinds += ["purchase"] * (held.origins - held.collections)
        contents[lot_id] = Content(held.collected_mg, claim(kinds, held.traces_mg))
    return contents


def spools_section(found: Movements, counts: Counts, destinations: Destinations) -> Section:
    """Show spools made and given, recycled content, and the chain of custody."""
    contents = contents_of(found)
    made, given = tuple(_made(found, contents)), tuple(_given(found, destinations))
    text = (
        _(
            "The period's statement is a mass balance in the sense of ISO 22095. What is claimed of"
            " what was collected follows the same grams. A single spool claims the model beside it:"
            " identity preserved where one collection alone is in it, segregated where only"
            " collections are, controlled blending where the share of other material is known."
        ),
        _(
            "Recycled content is by mass as in ISO 14021: material from collections over all of"
            " the product. Scrap that is fed again keeps the share of what it was made from and"
            " is never counted twice."
        ),
        _("Whoever got a spool is named only where the set-up says that they may be."),
    )
    return Section(
        "spools",
        _("Spools"),
        text,
        tuple(_facts(found, counts, made, given)),
        tuple(
            one
            for one in (_made_table(made), _given_table(given), _custody_table(made))
            if one.rows
        ),
    )


def spools_made(found: Movements) -> Iterator[tuple[Movement, LotRow, str | None]]:
    """Yield what made each spool of the period that holds some of it, the spool, and the day."""
    for one in found.inside:
        lot = found.lots[one.lot_id] if one.lot_id else None
        if lot is None or lot.maker != one.run_id or one.mass_mg <= 0:
            continue
        if lot.is_spool and border_of(found, one) != RECEIVED:
            run = found.runs[one.run_id]
            yield one, lot, found.scope.day(run.ended_at) if run.ended_at else None


def _made(found: Movements, contents: dict[int, Content]) -> Iterator[tuple[Cell, ...]]:
    titles = {kind: custody_title(kind) for kind in KINDS}
    for one, lot, day in spools_made(found):
        content = contents.get(one.lot_id, Content(0, CONTROLLED_BLENDING))
        share = content.collected_mg / lot.made_mg if lot.made_mg else None
        custody = titles[content.custody]
        yield lot.code, lot.polymer, day, one.whole_mg, one.mass_mg, share, custody


def _given(found: Movements, destinations: Destinations) -> Iterator[tuple[Cell, ...]]:
    for one in found.inside:
        if border_of(found, one) != DISPATCHED or not one.mass_mg:
            continue
        lot, run = found.lots[one.lot_id], found.runs[one.run_id]
        if lot.is_spool:
            day = found.scope.day(run.ended_at) if run.ended_at else None
            receiver = destinations.get(one.run_id) or _(NOT_NAMED)
            yield lot.code, lot.polymer, day, -one.whole_mg, -one.mass_mg, receiver


def _made_table(rows: tuple[tuple[Cell, ...], ...]) -> Table:
    return Table(
        "spools_made",
        _("Spools that were made"),
        (
            words("spool", _("Spool")),
            words("polymer", _("Polymer")),
            Column("made_day", _("Made"), DAY),
            mass("spool_mg", _("Mass of the spool")),
            mass("part_mg", _("Of it counted in this report"), "computed"),
            Column("recycled_content_share", _("Recycled content"), SHARE, how="computed"),
            words("custody", _("Chain of custody")),
        ),
        rows,
        (_("All"), "", None, _sum(rows, 3), _sum(rows, 4), None, ""),
    )


def _given_table(rows: tuple[tuple[Cell, ...], ...]) -> Table:
    return Table(
        "spools_given",
        _("Spools that were given out"),
        (
            words("spool", _("Spool")),
            words("polymer", _("Polymer")),
            Column("given_day", _("Given"), DAY),
            mass("spool_mg", _("Mass given")),
            mass("part_mg", _("Of it counted in this report"), "computed"),
            words("receiver", _("Receiver")),
        ),
        rows,
        (_("All"), "", None, _sum(rows, 3), _sum(rows, 4), ""),
    )


def _custody_table(made: tuple[tuple[Cell, ...], ...]) -> Table:
    sums: dict[Cell, list[int]] = defaultdict(lambda: [0, 0])
    for row in made:
        sums[row[6]][0] += 1
        sums[row[6]][1] += int(row[3] or 0)
    titles = [custody_title(kind) for kind in KINDS]
    return Table(
        "custody",
        _("Chain of custody of the spools made, by the models of ISO 22095"),
        (
            words("custody", _("Model")),
            Column("spools", _("Spools"), NUMBER),
            mass("mass_mg", _("Mass")),
        ),
        tuple((title, *sums[title]) for title in titles if title in sums),
    )


def _facts(
    found: Movements,
    counts: Counts,
    made: tuple[tuple[Cell, ...], ...],
    given: tuple[tuple[Cell, ...], ...],
) -> Iterator[Fact]:
    yield Fact("spools_made", _("Spools made"), len({row[0] for row in made}), NUMBER)
    yield Fact("spools_given", _("Spools given out"), len({row[0] for row in given}), NUMBER)
    product = counts.total(Counter.PRODUCT)
    if not found.scope.is_whole or min(product.mass_mg, product.other_mg) < 0:
        return
    if product.mass_mg + product.other_mg <= 0:
        return
    content = recycled_content(
        {
            "post-consumer": product.measured,
            "virgin": product.other,
        }
    )
    yield covered_fact(
        "recycled_content_share",
        _("Recycled content of the good product"),
        content,
        SHARE,
        how="computed",
        note=_(
            "By mass, as in ISO 14021. What was bought, or was there before the book, is counted"
            " as not recycled."
        ),
    )


def _sum(rows: tuple[tuple[Cell, ...], ...], place: int) -> int:
    return sum(int(row[place] or 0) for row in rows)


def custody_title(model: str) -> str:
    """Name a model of ISO 22095 for people."""
    return {
        IDENTITY_PRESERVED: _("Identity preserved"),
        SEGREGATED: _("Segregated"),
        CONTROLLED_BLENDING: _("Controlled blending"),
    }[model]
