"""What the figures draw: plain facts in whole milligrams, with words in the reader's language.

A query or a page fills these; the floor of figures turns them into SVG or plotly figures. Roles
are the keys of the line styles: input, product, side, recirculate, waste, loss, heel,
unaccounted.

What a control chart draws: shares over runs with their limits, in the reader's words.
What the figures of the search for a cause draw.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DrawnLot:
    """A lot in a drawing: its code, form (key of a shape), words, mass in mg, and whether held."""

    code: str
    form: str
    label: str
    mass_mg: int
    held: bool = False


@dataclass(frozen=True, slots=True)
class DrawnRun:
    """A run in a drawing: its code, the stage in words, and the day in words."""

    code: str
    label: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class DrawnFlow:
    """Mass in mg that went from one lot or run (by code) to another, in a role."""

    source: str
    target: str
    mass_mg: int
    role: str


@dataclass(frozen=True, slots=True)
class Lineage:
    """Lots, runs and the flows between them; `focus` is the code the reader asked about."""

    title: str
    finding: str
    lots: tuple[DrawnLot, ...]
    runs: tuple[DrawnRun, ...]
    flows: tuple[DrawnFlow, ...]
    focus: str = ""


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: words, mass in mg, its standard uncertainty in mg (None: not known), its role."""

    label: str
    mass_mg: int
    role: str
    u_mass_mg: int | None = None


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars that share one scale of kilograms, from the top."""

    title: str
    finding: str
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a waterfall: words, change in mg with its sign, role; totals stand on zero."""

    label: str
    change_mg: int
    role: str
    total: bool = False


@dataclass(frozen=True, slots=True)
class Waterfall:
    """From what went in to what is left, step by step; a total's change is not added but shown."""

    title: str
    finding: str
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class FlowNode:
    """A place that mass runs through in a Sankey: key, words, role that gives its colour."""

    key: str
    label: str
    role: str = "input"


@dataclass(frozen=True, slots=True)
class Flows:
    """A Sankey: nodes and flows between their keys. What goes round again ends in its own node."""

    title: str
    finding: str
    nodes: tuple[FlowNode, ...]
    flows: tuple[DrawnFlow, ...]


@dataclass(frozen=True, slots=True)
class MonthSeries:
    """One series over months: words, role, mass in mg for each month in order."""

    label: str
    role: str
    masses_mg: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Months:
    """Stacked months: names of the months and the series, each as long as the months."""

    title: str
    finding: str
    months: tuple[str, ...]
    series: tuple[MonthSeries, ...]


@dataclass(frozen=True, slots=True)
class ControlPoint:
    """One run: its label, its share, its step from the one before, and whether it is outside."""

    label: str
    share: float
    step: float | None
    outside: bool


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Shares over runs above, steps between them below; each with its limits.

    `words` names, in this order: the shares, the steps, the mean, the limits, what is outside.
    """

    title: str
    finding: str
    points: tuple[ControlPoint, ...]
    mean: float
    lower: float
    upper: float
    mean_step: float
    step_upper: float
    words: tuple[str, str, str, str, str]


@dataclass(frozen=True, slots=True)
class Bin:
    """Spools within a band of shares: its words, and how many good and bad spools are in it."""

    label: str
    good: int
    bad: int


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Good and bad spools side by side over the share of a suspect, the largest share on top."""

    title: str
    finding: str
    good_label: str
    bad_label: str
    bins: tuple[Bin, ...]


@dataclass(frozen=True, slots=True)
class Curve:
    """The exposure curve: from which share on a spool counts as fully exposed, and its shape.

    `share_label` and `exposure_label` name the axes; `full_share` is from 0 to 1.
    """

    title: str
    finding: str
    share_label: str
    exposure_label: str
    full_share: float
    power: float
