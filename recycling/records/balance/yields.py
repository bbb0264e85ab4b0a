"""Yields of a period, charts of them over time, and where the mass went, as people see them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.balance.covered import Covered
from recycling.records.setup.practice import PracticeRow


@dataclass(frozen=True)
class Ratio:
    """A share with how sure it is.

    Attributes
    ----------
    share, u : float
        The share and its standard uncertainty: 0.925 is 92.5 %.
    covered : Covered
        What covers 95 % of its truths, as shares.
    """

    share: float
    u: float
    covered: Covered


@dataclass(frozen=True)
class YieldRow:
    """Yield of runs that belong together.

    Attributes
    ----------
    key : str
        Stage, machine, operator, polymer, source or month; empty where none was named.
    runs, dry_runs : int
        How many runs, and for how many of them moisture was known before and after.
    product_mg, target_mg, again_mg : int
        Product given, target polymer fed, and how much of that the stage had given to go round
        again, mg.
    first_pass : Ratio or None
        Product over all target polymer that was fed, as weighed.
    overall : Ratio or None
        Product over what was fed for the first time; None where nothing went round again.
    dry : Ratio or None
        Product over target polymer without their water, over the runs where it is known.
    """

    key: str
    runs: int
    dry_runs: int
    product_mg: int
    target_mg: int
    again_mg: int
    first_pass: Ratio | None
    overall: Ratio | None
    dry: Ratio | None


@dataclass(frozen=True)
class YieldPoint:
    """One run on a chart.

    Attributes
    ----------
    run : str
        Its code.
    ended_at : datetime
        When it ended.
    share, u : float
        Its yield as a share, and the standard uncertainty.
    moving_range : float or None
        Step from the run before; None for the first.
    signals : tuple of str
        Rules that it breaks, in words; empty for a point in control.
    half : float
        Half-interval that covers 95 % of its truths, as a share.
    """

    run: str
    ended_at: datetime
    share: float
    u: float
    moving_range: float | None
    signals: tuple[str, ...]
    half: float


@dataclass(frozen=True)
class YieldChart:
    """Individuals and moving-range chart of a stage's yield on a machine.

    Attributes
    ----------
    stage, machine : str
        Which stage, and which machine; empty for all.
    points : tuple of YieldPoint
        Runs in order of time.
    mean, lower, upper : float
        Mean and limits of the yield.
    mean_range, range_upper : float
        Mean and limit of the moving range.
    provisional : bool
        Whether there are too few points for firm limits.
    firm : PracticeRow
        The workshop's setting of how many are enough.
    """

    stage: str
    machine: str
    points: tuple[YieldPoint, ...]
    mean: float
    lower: float
    upper: float
    mean_range: float
    range_upper: float
    provisional: bool
    firm: PracticeRow


@dataclass(frozen=True)
class LossStep:
    """One step from what was collected to what was spooled.

    Attributes
    ----------
    stage, what : str
        The stage at which it left, and as what: a role, a loss account, or a place.
    change_mg, left_mg : int
        Change, and what is left after it, mg; a change above zero adds.
    total : bool
        Whether it stands on zero: the first and the last.
    """

    stage: str
    what: str
    change_mg: int
    left_mg: int
    total: bool = False


@dataclass(frozen=True)
class Yields:
    """All about the yields of a period.

    Attributes
    ----------
    by : str
        What the rows are grouped by.
    rows : tuple of YieldRow
        The groups.
    chain_stages : tuple of str
        Stages in a row that the chain yield goes over.
    chain : Ratio or None
        Product of their yields over first feed; None where fewer than two stages gave a product.
    chart : YieldChart or None
        Where a stage was asked for and has two runs or more.
    losses : tuple of LossStep
        From collected to spooled, exact in mg.
    machines, polymers : tuple of str
        What there is to choose from.
    """

    by: str
    rows: tuple[YieldRow, ...]
    chain_stages: tuple[str, ...]
    chain: Ratio | None
    chart: YieldChart | None
    losses: tuple[LossStep, ...]
    machines: tuple[str, ...]
    polymers: tuple[str, ...]
