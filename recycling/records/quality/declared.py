"""Checks that a workshop declares for its products, and what they say of one product."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from recycling.records.setup.practice import NOT_CHECKED

FILAMENT, SHAPED = "filament", "product"
CHECKED_FORMS = (FILAMENT, SHAPED)
"""Kinds of product that checks are declared for."""

DIAMETER, OVALITY, LARGEST, VERDICT = "diameter", "ovality", "largest diameter", "verdict"
SHARE, ALL, MEAN, NONE_BAD = "share", "all", "mean", "none bad"


@dataclass(frozen=True)
class Quantity:
    """Something that a check can ask about.

    Attributes
    ----------
    label, unit : str
        How it is called, and its unit.
    rules : tuple of str
        Rules that it can be judged by, the usual one first.
    about : str
        What its limits mean.
    """

    label: str
    unit: str
    rules: tuple[str, ...]
    about: str


QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        DIAMETER: Quantity(
            "Diameter",
            "mm",
            (SHARE, ALL, MEAN),
            "Limits are differences from the nominal diameter. Without limits the spool's own"
            " tolerance counts.",
        ),
        OVALITY: Quantity("Ovality", "mm", (MEAN, ALL), "The difference of two axes at one place."),
        LARGEST: Quantity(
            "Largest diameter",
            "mm",
            (ALL,),
            "The limit is a difference from the nominal diameter: one lump clogs a nozzle.",
        ),
        VERDICT: Quantity(
            "Bad results", "", (NONE_BAD,), "A bad result counts until the workshop answers it."
        ),
    }
)
RULES: Mapping[str, str] = MappingProxyType(
    {
        SHARE: "a share inside, at a confidence",
        ALL: "all inside",
        MEAN: "the mean inside",
        NONE_BAD: "no bad result that stands",
    }
)


@dataclass(frozen=True)
class DeclareEntry:
    """A check to declare, or one to switch off.

    Attributes
    ----------
    quantity : str
        "diameter", "ovality", "largest diameter" or "verdict".
    source : str
        Where its limits come from.
    form : str
        "filament" or "product": the kind of product.
    polymer : str
        Its polymer; empty for every polymer that has no check of its own.
    rule : str
        "share", "all", "mean" or "none bad"; empty for the quantity's usual one.
    low, high : float or None
        Limits, mm; for diameters as differences from the nominal one.
    least : int
        Least number of readings.
    share_percent, sure_percent : float or None
        Share that must be inside, and at which confidence, %; for the rule "share".
    needed : bool
        Whether a product passes only with it; else it is for information.
    defect : str
        The defect under which a failure enters the search for a cause; empty for none.
    off : bool
        Whether this check is asked no more.
    since : datetime or None
        From when on products must meet it, by when they were made; now where it is left out.
    """

    quantity: str
    source: str
    form: str = FILAMENT
    polymer: str = ""
    rule: str = ""
    low: float | None = None
    high: float | None = None
    least: int = 1
    share_percent: float | None = None
    sure_percent: float | None = None
    needed: bool = True
    defect: str = ""
    off: bool = False
    since: datetime | None = None


@dataclass(frozen=True)
class DeclaredRow:
    """A check as it was declared.

    Attributes
    ----------
    edition : int
        Its number among all that the workshop declared; 0 for a first setting.
    form, polymer, quantity, label, unit, rule : str
        What it asks, of which product; no polymer stands for every one.
    low, high : float or None
        Its limits.
    least : int
        Least number of readings.
    share_percent, sure_percent : float or None
        Share that must be inside and the confidence, %.
    needed, off : bool
        Whether a product passes only with it, and whether it is switched off.
    defect, source : str
        The defect that a failure stands for, and where the limits come from.
    since : datetime or None
        From when on it holds; None for a first setting, which always did.
    """

    edition: int
    form: str
    polymer: str
    quantity: str
    label: str
    unit: str
    rule: str
    low: float | None
    high: float | None
    least: int
    share_percent: float | None
    sure_percent: float | None
    needed: bool
    off: bool
    defect: str
    source: str
    since: datetime | None


def _first(quantity: str, rule: str, defect: str = "", **asked: float) -> DeclaredRow:
    known = QUANTITIES[quantity]
    return DeclaredRow(
        0,
        FILAMENT,
        "",
        quantity,
        known.label,
        known.unit,
        rule,
        None,
        asked.get("high"),
        int(asked.get("least", 1)),
        asked.get("share"),
        asked.get("sure"),
        needed=True,
        off=False,
        defect=defect,
        source=NOT_CHECKED,
        since=None,
    )


FIRST_CHECKS = (
    _first(DIAMETER, SHARE, "diameter out of tolerance", least=10, share=90, sure=80),
    _first(OVALITY, MEAN, "diameter out of tolerance", high=0.05, least=3),
    _first(LARGEST, ALL, "clogged nozzle", high=0.15, least=10),
    _first(VERDICT, NONE_BAD),
)
"""What filament must meet until a workshop declares its own."""


@dataclass(frozen=True)
class CheckAnswer:
    """What one check says of a product.

    Attributes
    ----------
    quantity, label, unit : str
        What was asked.
    answer : str
        "passed", "failed" or "not judged".
    reason : str
        What it rests on, or what is missing.
    needed : bool
        Whether the product passes only with it.
    defect : str
        The defect that a failure stands for.
    edition : int
        The edition that it was judged by.
    readings : int
        How many readings it rests on.
    low, high : float or None
        Between which limits, mm.
    least_seen, most_seen, mean_seen : float or None
        Smallest, largest and mean of what was read, mm.
    measured_at : datetime or None
        When; the newest measurement counts.
    earlier : tuple of str
        What earlier measurements said, the newest first.
    """

    quantity: str
    label: str
    unit: str
    answer: str
    reason: str
    needed: bool
    defect: str
    edition: int
    readings: int = 0
    low: float | None = None
    high: float | None = None
    least_seen: float | None = None
    most_seen: float | None = None
    mean_seen: float | None = None
    measured_at: datetime | None = None
    earlier: tuple[str, ...] = ()


@dataclass(frozen=True)
class ProductState:
    """Whether a product is good, and what that rests on.

    Attributes
    ----------
    state : str
        "passed", "failed" or "not judged". Nothing is passed by default.
    edition : int
        The newest edition of checks that it was judged by; 0 for first settings.
    judged_at : datetime
        When the newest fact that it rests on was noted.
    answers : tuple of CheckAnswer
        Of each check, in the order in which they are listed.
    missing : tuple of str
        What is missing before it can pass, one sentence each.
    second_choice : str
        Why it was released as second choice; empty where it was not.
    """

    state: str
    edition: int
    judged_at: datetime
    answers: tuple[CheckAnswer, ...]
    missing: tuple[str, ...]
    second_choice: str = ""
