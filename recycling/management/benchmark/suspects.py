"""The search for a cause: ranking against one numpy pass, tracing exposures against plain SQL."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from recycling.calc.suspects.exposure import dense_shares, listed_shares
from recycling.calc.suspects.posterior import weigh_suspects
from recycling.calc.suspects.ranking import ranking
from recycling.management.benchmark.measure import Ratio, interleaved
from recycling.management.benchmark.traces import fetched
from recycling.models import Lot, Run
from recycling.queries.suspects.exposures import Exposures, exposures
from recycling.records.actors import Actor

FULL_SHARE, SPOIL_CHANCE, BACKGROUND = 0.20, 0.8, 0.03
"""Mass fraction that spoils a spool with that chance, less in proportion; chance without cause."""


def large_book(
    seed: int = 1, spools: int = 2_000, candidates: int = 10_000, held: int = 40
) -> tuple[np.ndarray, np.ndarray, int]:
    """Make a large book for timing: shares as a full matrix, and how every spool is.

    Parameters
    ----------
    seed : int
        Of the random numbers.
    spools, candidates : int
        How many of each.
    held : int
        How many candidates each spool holds: a handful of collections, each with the lots on its
        way, and the batches, machines and people that it went through.

    Returns
    -------
    shares : numpy.ndarray of float, shape (spools, candidates)
        Mass fractions.
    bad : numpy.ndarray of bool, shape (spools,)
        One candidate is to blame, in proportion to its share.
    cause : int
        That candidate.

    Raises
    ------
    ValueError
        If a spool shall hold more candidates than there are.

    Examples
    --------
    >>> shares, bad, cause = large_book(spools=50, candidates=30, held=5)
    >>> shares.shape, int((shares > 0).sum())
    ((50, 30), 250)
    """
    random = np.random.default_rng(seed)
    matrix = np.zeros((spools, candidates))
    for row in matrix:
        row[random.choice(candidates, size=held, replace=False)] = random.random(held) ** 2
    cause = int(np.argmax((matrix > FULL_SHARE).sum(axis=0)))
    spoil = SPOIL_CHANCE * np.minimum(matrix[:, cause] / FULL_SHARE, 1.0)
    return matrix, random.random(spools) < 1 - (1 - BACKGROUND) * (1 - spoil), cause


SPOOLS, RANKED, TRACED = 2_000, 15, 5

MET = """
WITH RECURSIVE up(spool_id, run_id) AS (
  SELECT account_id, made_by_id FROM recycling_lot WHERE account_id IN ({marks})
  UNION
  SELECT up.spool_id, l.made_by_id FROM up
    JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
    JOIN recycling_lot l ON l.account_id = d.lot_id
) SELECT spool_id, run_id FROM up
"""
"""Which spool came through which run: the least that any tracing must find, without shares."""


def suspects_ratios(actor: Actor, cases: int) -> list[Ratio]:
    """Measure the ranking over a large matrix, and the exposures of the newest spools."""
    return [*_ranking(min(cases, RANKED)), _tracing(actor, min(cases, TRACED))]


def _ranking(cases: int) -> list[Ratio]:
    matrix, bad, cause = large_book(spools=SPOOLS)
    spool, candidate = np.nonzero(matrix)
    share, standing = matrix[spool, candidate], bad.astype(int)
    ways = {
        "rank 10,000 × 2,000, from a list": lambda _: ranking(
            weigh_suspects(listed_shares(spool, candidate, share, *matrix.shape), standing)
        ),
        "rank 10,000 × 2,000, from a matrix": lambda _: ranking(
            weigh_suspects(dense_shares(matrix), standing)
        ),
    }
    return [
        interleaved(
            name,
            "one numpy pass over the matrix",
            way,
            lambda _: matrix.sum(axis=0),
            range(cases),
            goal=5.0,
            agree=lambda ranked, _: ranked.lines[0].members == (cause,),
        )
        for name, way in ways.items()
    ]


def _tracing(actor: Actor, cases: int) -> Ratio:
    newest = Lot.objects.filter(workshop_id=actor.workshop_id, spool__isnull=False, made_mg__gt=0)
    ids = list(newest.order_by("-number").values_list("pk", flat=True)[:SPOOLS])
    statement = MET.format(marks=", ".join(["%s"] * len(ids)))
    found = exposures(ids)
    note = f"{found.shares.candidates} candidates, {len(found.shares.share)} shares"
    return interleaved(
        f"exposures of {len(ids):,} spools",
        "one recursive statement, no shares",
        lambda _: exposures(ids),
        lambda _: fetched(statement, ids),
        range(cases),
        goal=1.5,
        note=note,
        agree=partial(_agree, actor.workshop_id),
    )


def _agree(workshop_id: int, found: Exposures, rows: list[Any]) -> bool:
    """Say whether the service met runs that the statement met, and each spool's own run wholly."""
    shares, candidates = found.shares, found.candidates
    codes = [one.code for one in candidates if one.kind == "run"]
    runs = dict(
        Run.objects.filter(workshop_id=workshop_id, code__in=codes).values_list("code", "pk")
    )
    met = {
        (found.lots[row], runs[candidates[column].code]): share
        for row, column, share in zip(shares.spool, shares.candidate, shares.share, strict=True)
        if candidates[column].kind == "run"
    }
    makers = Lot.objects.filter(pk__in=found.lots).values_list("pk", "made_by_id")
    return met.keys() <= set(rows) and all(met[own] == 1 for own in makers)
