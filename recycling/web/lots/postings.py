"""Postings with their corrections under them, the old figure readable."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from recycling.records.actors import Actor
from recycling.records.balance.known_masses import KnownMass
from recycling.records.lots.lots import PostingRow
from recycling.stages import COUNTING
from recycling.stages.declaration import LOSSES
from recycling.tables.csv_text import kilograms
from recycling.web.pages.read import link

COLUMNS = (
    "posting",
    "entry",
    "what",
    "run",
    "stage",
    "account",
    "lot",
    "polymer",
    "mass, kg",
    "happened at",
    "written at",
    "by",
    "reason",
    "key",
    "corrects",
)
NOT_TYPED = {"close", "correct", "void", "count", "restate"}


@dataclass(frozen=True)
class Figure:
    """A figure of the book as it was typed first, and what became of it.

    Attributes
    ----------
    first : PostingRow
        The posting that carries it.
    corrections : tuple of PostingRow
        What was posted to set it right, in order.
    mass_mg : int
        What it is now, in mg, corrections included.
    correct_url : str
        Where it can be corrected; empty where it follows from other figures.
    known : KnownMass or None
        How sure it is, where somebody typed it.
    """

    first: PostingRow
    corrections: tuple[PostingRow, ...]
    mass_mg: int
    correct_url: str
    known: KnownMass | None = None


def figures(
    actor: Actor,
    postings: Sequence[PostingRow],
    masses: Sequence[KnownMass] = (),
    void: bool = False,
) -> list[Figure]:
    """Put corrections under what they correct, and beside each figure how sure it is."""
    sure = {one.posting: one for one in masses}
    under: dict[int, list[PostingRow]] = defaultdict(list)
    known = {row.posting for row in postings}
    for row in postings:
        if row.corrects in known:
            under[row.corrects].append(row)
    return [
        Figure(
            row,
            tuple(under[row.posting]),
            row.mass_mg + sum(one.mass_mg for one in under[row.posting]),
            "" if void or not _is_typed(row) else correct_url(actor, row.posting),
            sure.get(row.posting),
        )
        for row in postings
        if row.corrects not in known
    ]


def _is_typed(row: PostingRow) -> bool:
    typed = row.account == "lot" or row.account in LOSSES
    return typed and row.kind not in NOT_TYPED and row.stage not in COUNTING


def correct_url(actor: Actor, posting: int) -> str:
    """Give the address where a figure is corrected, for who may do so."""
    return link("posting-correct", actor, posting) if actor.may("correct") else ""


def cells(row: PostingRow) -> tuple[object, ...]:
    return (
        row.posting,
        row.sequence,
        row.kind,
        row.run,
        row.stage,
        row.account,
        row.lot,
        row.polymer,
        kilograms(row.mass_mg),
        row.happened_at,
        row.written_at,
        row.by,
        row.reason,
        row.key,
        row.corrects,
    )
