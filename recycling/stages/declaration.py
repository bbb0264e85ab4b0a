"""What a stage declares; forms, API, pages, docs and tests are made from it."""

from __future__ import annotations

from dataclasses import dataclass

PRODUCT, SIDE, RECIRCULATE, WASTE, HEEL = "product", "side", "recirculate", "waste", "heel"
ROLES = {
    PRODUCT: "product",
    SIDE: "side stream",
    RECIRCULATE: "round again",
    WASTE: "waste",
    HEEL: "heel",
}

FORMS = (
    "bottles",
    "clean bottles",
    "cut pieces",
    "caps",
    "rings",
    "labels",
    "reject",
    "flake",
    "oversize",
    "fines",
    "dried flake",
    "pellets",
    "purge compound",
    "heel",
    "changeover scrap",
    "start-up scrap",
    "filament",
    "offcuts",
)
LOSSES = ("water", "residue", "dust", "volatiles")
UNACCOUNTED = "unaccounted"
RECEIVED, DISPATCHED, DISCARDED = "received", "dispatched", "discarded"
BORDERS = (RECEIVED, DISPATCHED, DISCARDED, *LOSSES, UNACCOUNTED)

RUN_POLYMER, ANOTHER_POLYMER, ANY_POLYMER = "the run's", "another", "any"
ANY_FORM = FORMS


@dataclass(frozen=True)
class Output:
    """One form of lot that a stage gives.

    Attributes
    ----------
    form : str
        One of ``FORMS``.
    roles : tuple of str
        Roles it may have, the usual one first.
    polymer : str
        Whether it is of the run's polymer, of another one, or of any.
    spool : bool
        Whether it may be a spool with a serial of its own.
    """

    form: str
    roles: tuple[str, ...] = (PRODUCT,)
    polymer: str = RUN_POLYMER
    spool: bool = False

    @property
    def role(self) -> str:
        """The usual role."""
        return self.roles[0]


@dataclass(frozen=True)
class Loss:
    """One loss account that a stage may post to.

    Attributes
    ----------
    account : str
        One of ``LOSSES``.
    gain : bool
        Whether it may be below zero, as when washed flake takes up water.
    """

    account: str
    gain: bool = False


@dataclass(frozen=True)
class Field:
    """Something that is checked, noted or set during a stage.

    Attributes
    ----------
    key : str
        Name in requests and in the book.
    label : str
        Name on pages.
    kind : str
        "number", "text" or "choice".
    unit : str
        Unit of a number.
    choices : tuple of str
        What can be chosen.
    minimum, maximum : float or None
        Bounds of a number.
    limit : float or None
        A value above it is outside the check's limit: noted as such, not refused.
    remedy : str
        What to do with material above the limit.
    required : bool
        Whether a run cannot be closed without it.
    hint : str
        What to look at, and where a limit comes from.
    """

    key: str
    label: str
    kind: str = "number"
    unit: str = ""
    choices: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    limit: float | None = None
    remedy: str = ""
    required: bool = False
    hint: str = ""


@dataclass(frozen=True)
class Stage:
    """A kind of work on lots.

    Attributes
    ----------
    key : str
        Name in requests and in the book.
    title : str
        What the work is called.
    summary : str
        One sentence on what is done.
    takes : tuple of str
        Forms it may draw; empty for none.
    gives : tuple of Output
        What may come out.
    same_form : bool
        Its product has the form of what was drawn, as in washing and blending.
    losses : tuple of Loss
        Loss accounts that may be used.
    border : str
        "received", "dispatched" or "discarded" where mass crosses the workshop's border.
    machine : str
        Kind of machine, empty for none.
    least_lots : int
        How many lots it must draw.
    keeps_heel : bool
        Whether its machine hands a heel from run to run.
    counts : bool
        Whether it sets lots to a counted mass.
    main_polymer : str
        Where the run's polymer is read from: "product" or "input".
    checks, settings : tuple of Field
        What is noted once, and what is logged as it changes.
    cautions : tuple of str
        Names of the cautions to show before the work starts.
    """

    key: str
    title: str
    summary: str
    takes: tuple[str, ...] = ()
    gives: tuple[Output, ...] = ()
    same_form: bool = False
    losses: tuple[Loss, ...] = ()
    border: str = ""
    machine: str = ""
    least_lots: int = 1
    keeps_heel: bool = False
    counts: bool = False
    main_polymer: str = "product"
    checks: tuple[Field, ...] = ()
    settings: tuple[Field, ...] = ()
    cautions: tuple[str, ...] = ()

    def output(self, form: str) -> Output | None:
        """Find what the stage says of a form that came out; None when it gives no such form."""
        if self.same_form and form in self.takes:
            return Output(form)
        return next((output for output in self.gives if output.form == form), None)

    def loss(self, account: str) -> Loss | None:
        """Find what the stage says of a loss account; None when it has no such loss."""
        return next((loss for loss in self.losses if loss.account == account), None)

    def check(self, key: str) -> Field | None:
        """Find a check by key."""
        return next((field for field in self.checks if field.key == key), None)

    def setting(self, key: str) -> Field | None:
        """Find a setting by key."""
        return next((field for field in self.settings if field.key == key), None)
