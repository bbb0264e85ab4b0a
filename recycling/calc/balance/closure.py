"""Closure of a run: what is left over, and how that compares with what is usual there.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 5.1.2 (combination) and 6.2.1 (coverage factor k = 2).
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from recycling.calc.balance.shared_errors import HEEL_RULE
from recycling.calc.balance.usual_loss import SCATTER_RUNS, STATES, Band, state_of
from shared.measured import Measured, total


@dataclass(frozen=True, slots=True)
class Closure:
    """What is unaccounted for in a run, mg; its state, direction and band; what went in, mg."""

    unaccounted: Measured
    state: str
    direction: str
    band: Band
    went_in_mg: float = 0.0

    @property
    def flagged(self) -> bool:
        """Whether it is to be looked at."""
        return self.state in STATES[2:]


def unaccounted(
    inputs: Iterable[Measured], outputs: Iterable[Measured], losses: Iterable[Measured] = ()
) -> Measured:
    """What is left over: r = Σ inputs − Σ outputs − Σ measured losses, mg.

    The parts are independent, u(r) = √Σu² [1]_; where a container was used more than once
    see `shared.measured.total_with_shared_tares`.

    Examples
    --------
    >>> r = unaccounted([Measured(12.50, 0.05)], [Measured(10.80, 0.05)], [Measured(1.10, 0.02)])
    >>> f"{r.value:.2f} ± {2 * r.u:.3f}"
    '0.60 ± 0.147'
    """
    return total(inputs) - total(outputs) - total(losses)


def closure(left_over: Measured, band: Band, went_in_mg: float = 0.0) -> Closure:
    """Judge what is unaccounted for in a run by what is usual of it.

    Parameters
    ----------
    left_over : Measured
        r and u(r), mg; positive is mass lost, negative is mass gained.
    band : Band
        What is usual of this run.
    went_in_mg : float
        What went in, mg.

    Returns
    -------
    Closure
        ``closed within weighing`` for |r| ≤ 2u(r) [1]_, or as the band has it; ``usual``, ``to
        look at``, or ``open``.

    Examples
    --------
    >>> from recycling.calc.balance.usual_loss import Usual, band
    >>> usual = band(Usual(5.0, 0.02, (0, 0, 0), 0.4, runs=40, of_stage=40), 10_000.0, 73.5)
    >>> found = closure(Measured(1_200.0, 73.5), usual)
    >>> found.state, found.direction
    ('open', 'loss')
    """
    value = left_over.value
    direction = "even" if value == 0 else "loss" if value > 0 else "gain"
    return Closure(left_over, state_of(value, band), direction, band, went_in_mg)


def uncertainty(left_over: Measured, runs: int) -> float:
    """Say how uncertain what is left over is beside the usual loss, mg.

    What one guesses of a heel errs alike in every run of a machine, so that the scatter learnt
    from `runs` earlier ones has it already: of its variance 6/(6 + runs) is left, as scatter
    itself starts with the weight of six runs.

    Examples
    --------
    >>> from shared.measured import Source
    >>> guess, scale = Source(HEEL_RULE, 1), Source("scale", "bench")
    >>> round(uncertainty(Measured.of(0, {guess: 30.0, scale: 4.0}), 48), 1)
    10.8
    """
    heels = sum(part**2 for source, part in left_over.parts.items() if source.kind == HEEL_RULE)
    rest = max(left_over.u**2 - heels, 0.0)
    return math.sqrt(rest + heels * SCATTER_RUNS / (SCATTER_RUNS + runs))


def worst_first(closures: Mapping[str, Closure]) -> list[str]:
    """Rank runs, given by name, worst first.

    By state, then by how far from what is usual in standard deviations, then by size; runs that
    tie keep the order of their names.
    """

    def badness(name: str) -> tuple[int, float, float]:
        one = closures[name]
        left_mg, band = one.unaccounted.value, one.band
        away = abs(left_mg - band.mean_mg) / band.sd_mg if band.sd_mg else 0.0
        return -STATES.index(one.state), -away, -abs(left_mg)

    return sorted(sorted(closures), key=badness)
