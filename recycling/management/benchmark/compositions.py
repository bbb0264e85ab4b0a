"""Compositions: the stored one against one indexed read, all of them against a linear solve."""

from __future__ import annotations

from typing import Any

from recycling.calc.lots.composition import TRACES
from recycling.calc.lots.recomposition import RunMasses, recompose
from recycling.management.benchmark.measure import Ratio, interleaved
from recycling.management.benchmark.samples import late_spools
from recycling.management.benchmark.traces import fetched
from recycling.models import Draw, Lot, Workshop
from recycling.queries.lots.origins import lot_origins
from recycling.records.actors import Actor

STORED = """
SELECT l.form, l.made_mg, l.traces_mg, l.stale, r.composition_model, o.kind, o.code, s.name,
       o.supplier, o.happened_at, c.mass_mg
  FROM recycling_lot l JOIN recycling_run r ON r.account_id = l.made_by_id
  JOIN recycling_composition c ON c.lot_id = l.account_id
  JOIN recycling_origin o ON o.id = c.origin_id
  LEFT JOIN recycling_source s ON s.id = o.source_id
 WHERE l.workshop_id = %s AND l.code = %s ORDER BY c.mass_mg DESC, c.origin_id
"""
BLOCK = 128
AGREES_WITHIN = 2e-5
"""Of a lot's mass: the solve cuts nothing, the book keeps shares from one in a million."""


def composition_ratios(actor: Actor, cases: int) -> list[Ratio]:
    """Measure a lot page's composition, and composing the whole book afresh."""
    workshop = actor.workshop_id
    return [
        interleaved(
            "composition of a spool, stored",
            "one statement",
            lambda code: lot_origins(actor, code),
            lambda code: fetched(STORED, [workshop, code]),
            late_spools(workshop, cases),
            goal=1.3,
            agree=lambda found, rows: (
                [(part.code, part.mass_mg) for part in found.origins]
                == [(row[6], row[10]) for row in rows]
            ),
        ),
        _whole_book(workshop),
    ]


def _whole_book(workshop_id: int) -> Ratio:
    runs = _masses(workshop_id)
    floor_ppm = Workshop.objects.values_list("trace_floor_ppm", flat=True).get(pk=workshop_id)
    problem = Problem(runs)
    return interleaved(
        "all compositions, afresh",
        "scipy splu of the shares",
        lambda _: recompose(runs, {}, floor_ppm),
        lambda _: problem.solved(),
        range(3),
        goal=0.7,
        note="in whole milligrams that add up, against shares as floats; both from memory",
        agree=problem.agrees,
    )


def _masses(workshop_id: int) -> dict[int, RunMasses]:
    draws: dict[int, list] = {}
    rows = Draw.objects.filter(run__workshop_id=workshop_id, mass_mg__gt=0).order_by("pk")
    for run, lot, mass_mg in rows.values_list("run_id", "lot_id", "mass_mg"):
        draws.setdefault(run, []).append((lot, mass_mg))
    outputs: dict[int, list] = {}
    lots = Lot.objects.filter(workshop_id=workshop_id).order_by("pk")
    for run, lot, mass_mg, origin in lots.values_list("made_by", "pk", "made_mg", "origin"):
        outputs.setdefault(run, []).append((lot, mass_mg, origin))
    return {run: RunMasses(tuple(draws.get(run, ())), tuple(outputs[run])) for run in outputs}


class Problem:
    """Shares X of origins in runs: X = A X + B, where A says what each run drew of each."""

    def __init__(self, runs: dict[int, RunMasses]) -> None:
        import numpy as np
        from scipy import sparse

        place = {run: row for row, run in enumerate(runs)}
        maker = {lot: place[run] for run, masses in runs.items() for lot, _, _ in masses.outputs}
        origins: dict[Any, int] = {}
        drawn: tuple[list[int], list[int], list[float]] = ([], [], [])
        came: tuple[list[int], list[int]] = ([], [])
        for run, masses in runs.items():
            whole = sum(mass_mg for _, mass_mg in masses.draws)
            for lot, mass_mg in masses.draws:
                drawn[0].append(place[run])
                drawn[1].append(maker[lot])
                drawn[2].append(mass_mg / whole)
            for origin in {origin for _, _, origin in masses.outputs if origin is not None}:
                came[0].append(place[run])
                came[1].append(origins.setdefault(origin, len(origins)))
        shape = (len(runs), len(runs))
        shares = sparse.csc_array((drawn[2], drawn[:2]), shape=shape)
        self.left = sparse.csc_array(sparse.eye_array(len(runs)) - shares)
        ones = np.ones(len(came[0]))
        self.right = sparse.csc_array((ones, came), shape=(len(runs), len(origins)))
        self.maker, self.origins = maker, origins
        self.compared = np.arange(0, len(runs), 100)

    def solved(self) -> Any:
        """Factorise once and solve for blocks of origins; keeps the rows that are compared."""
        import numpy as np
        from scipy.sparse.linalg import splu

        factors = splu(self.left, permc_spec="NATURAL", diag_pivot_thresh=0.0)
        kept = []
        for first in range(0, self.right.shape[1], BLOCK):
            block = self.right[:, first : first + BLOCK].toarray()
            kept.append(factors.solve(block)[self.compared])
        return np.hstack(kept)

    def agrees(self, found: dict, shares: Any) -> bool:
        """Compare every hundredth run with the solution."""
        rows = {run: row for row, run in enumerate(self.compared.tolist())}
        for lot, parts in found.items():
            if self.maker[lot] not in rows:
                continue
            whole, row = sum(parts.values()), shares[rows[self.maker[lot]]]
            for origin, mass_mg in parts.items():
                off = 0 if origin is TRACES else row[self.origins[origin]] - mass_mg / whole
                if abs(off) > AGREES_WITHIN + 2 / whole:
                    return False
        return True
