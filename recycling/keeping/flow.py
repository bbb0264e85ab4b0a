"""A mass put right flows on where a lot was taken whole; what was weighed stays.

A draw whose mass is *by book* took all that there was, whatever that was: it follows what the lot
gains or loses before it, the latest such draw first. What left by it follows over the border; in
any other run the difference is unaccounted, for what came out was weighed.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.db.models import Sum

from recycling.keeping.posting import Page
from recycling.keeping.unaccounted import counter
from recycling.ledger.models import LOT, Posting
from recycling.ledger.post import Change
from recycling.models import Run
from recycling.queries.runs.whole_draws import whole_draws

CORRECT = "correct"


def correction_pages(run: Run, root: Posting, delta_mg: int, reason: str, flow: bool) -> list[Page]:
    """Say what a correction posts: of the figure itself, and with `flow` of all that follows.

    `delta_mg` is what the account of the figure gains, in mg.
    """
    pages = [_page(run, root, delta_mg, reason)]
    if flow and root.account.kind == LOT:
        pages += _follow(root.account_id, root.entry.happened_at, delta_mg, reason)
    return pages


def _page(run: Run, root: Posting, delta_mg: int, reason: str) -> Page:
    """Correct one figure, and have the difference taken up in its own run."""
    changes = [
        Change(root.account_id, delta_mg, corrects_id=root.pk),
        counter(run, root.account.commodity, -delta_mg),
    ]
    return Page(run, CORRECT, root.entry.happened_at, changes, reason)


def _follow(lot_id: int, at: datetime, delta_mg: int, reason: str) -> Iterator[Page]:
    """Have draws that took a lot whole follow what it gained, mg; none falls below zero."""
    for draw in whole_draws(lot_id, at):
        part_mg = max(delta_mg, -figure_now(draw))
        if part_mg:
            run = Run.objects.get(pk=draw.entry.process_id)
            yield _page(run, draw, -part_mg, reason)
            delta_mg -= part_mg


def figure_now(root: Posting) -> int:
    """Return the size of a figure with all its corrections, in mg."""
    return abs(root.mass_mg + (root.corrections.aggregate(sum=Sum("mass_mg"))["sum"] or 0))
