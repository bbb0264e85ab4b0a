"""What a stage declares; forms, API, pages, docs and tests are made from it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from recycling.stages.fields import Field
from recycling.stages.groups import ANY, NEEDS_DRYING, Usual, group_of

PRODUCT, SIDE, RECIRCULATE, WASTE, HEEL = "product", "side", "recirculate", "waste", "heel"
RETURNED = "returned"
ROLES = {
    PRODUCT: "product",
    SIDE: "side stream",
    RECIRCULATE: "round again",
    WASTE: "waste",
    RETURNED: "back as it was",
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
    "product",
)
FED_BESIDES = frozenset({"purge compound", HEEL})
"""What goes through a melt besides the material that is worked on."""

MIXED = "mixed"
"""Code of a lot in which polymers were poured together; its origins say which."""

SPOOLED = frozenset({"filament"})
"""What can be wound on a spool."""

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


ALWAYS_GIVES = (Output("offcuts", (WASTE, RECIRCULATE)), Output("reject", (WASTE,), ANY_POLYMER))
"""Scrap and waste, which any work may give besides what its stage declares."""


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
    loss_words : str
        How set-up asks what its runs usually lose; empty where they lose nothing.
    usual : tuple of (form, group)
        What usually waits for it, of which group of polymers. Any other form can be drawn too and
        is a deviation, but for a heel outside its machine.
    also : tuple of (form, group)
        What it draws as usually, though nothing is proposed for it: as where many a lot never
        goes through. A stage that draws nothing has neither.
    gives : tuple of Output
        What may come out, besides scrap, waste, and what was drawn, back again.
    same_form : bool
        Its product has the form of what was drawn, as in washing and blending.
    losses : tuple of Loss
        Loss accounts that may be used.
    border : str
        "received", "dispatched" or "discarded" where mass crosses the workshop's border.
    machine : str
        Kind of machine, empty for none.
    any_machine : bool
        Whether a machine of any kind may be used.
    least_lots : int
        How many lots it must draw.
    keeps_heel : bool
        Whether its machine hands a heel from run to run.
    melts : bool
        Whether the material melts: what needs drying must be dry by then.
    dries : bool
        Whether it drives water out, so that what it gives is dry until it lies open.
    heats : tuple of str
        Settings that log the temperature of the material, by the start of their keys.
    counts : bool
        Whether it sets lots to a counted mass.
    sorts : bool
        Whether collected material counts as sorted once it went through.
    in_a_row : bool
        Whether its yield is a link of the chain from bottle to product.
    spools_by_default : bool
        Whether what can be a spool usually is one.
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
    loss_words: str = ""
    usual: Usual = ()
    also: Usual = ()
    gives: tuple[Output, ...] = ()
    same_form: bool = False
    losses: tuple[Loss, ...] = ()
    border: str = ""
    machine: str = ""
    any_machine: bool = False
    least_lots: int = 1
    keeps_heel: bool = False
    melts: bool = False
    dries: bool = False
    heats: tuple[str, ...] = ()
    counts: bool = False
    sorts: bool = False
    in_a_row: bool = True
    spools_by_default: bool = False
    main_polymer: str = "product"
    checks: tuple[Field, ...] = ()
    settings: tuple[Field, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def works(self) -> bool:
        """Whether something is done to material here: no border is crossed, nothing counted."""
        return not self.border and not self.counts

    @property
    def own_page(self) -> bool:
        """Whether it is recorded in a way of its own: what comes in, and what is counted."""
        return self.border == RECEIVED or self.counts

    @property
    def usual_forms(self) -> tuple[str, ...]:
        """Forms that it usually draws, of one polymer or another."""
        return tuple(dict.fromkeys(form for form, _ in (*self.usual, *self.also)))

    @property
    def takes(self) -> tuple[str, ...]:
        """Forms that it can draw: any but a heel, which stays in the machine that keeps it."""
        if not self.usual_forms:
            return ()
        heel = self.keeps_heel or HEEL in self.usual_forms
        return tuple(form for form in FORMS if heel or form != HEEL)

    @property
    def makes_spools(self) -> bool:
        """Whether a spool is wound here."""
        return any(output.spool for output in self.gives)

    @property
    def makes_filament(self) -> bool:
        """Whether filament comes out of the melt here."""
        return self.melts and any(output.form in SPOOLED for output in self.gives)

    @property
    def wets(self) -> bool:
        """Whether material may take up water here."""
        return any(loss.gain for loss in self.losses)

    def usually_takes(self, form: str, needs_drying: bool | None) -> bool:
        """Say whether a form of a polymer is usually drawn; of an unknown polymer any form is."""
        return any(
            one == form and (of == ANY or needs_drying is None or of == group_of(needs_drying))
            for one, of in (*self.usual, *self.also)
        )

    def asks_polymer(self, form: str) -> bool:
        """Whether it depends on the polymer if a form is usually drawn."""
        return self.usually_takes(form, True) != self.usually_takes(form, False)

    def gives_back(self, form: str) -> bool:
        """Whether its product can have the form of what was drawn, as in washing and winding."""
        made = {output.form for output in self.gives if output.role == PRODUCT}
        return form in made or (self.same_form and (form, NEEDS_DRYING) not in self.usual)

    def fed_besides(self, form: str) -> bool:
        """Whether a form goes through the machine besides what the run works on."""
        return self.keeps_heel and form in FED_BESIDES

    def output(self, form: str, drawn: Collection[str] = ()) -> Output | None:
        """Find what the stage says of a form that came out; None when it gives no such form.

        `drawn` are the forms that went in: these can come back as they were.
        """
        found = next((output for output in self.gives if output.form == form), None)
        if found or not self.works:
            return found
        if self.same_form and form in (drawn or self.takes) and form != HEEL:
            return Output(form, spool=form in SPOOLED)
        if form in drawn and form != HEEL:
            return Output(form, (RETURNED,), spool=form in SPOOLED)
        return next((output for output in ALWAYS_GIVES if output.form == form), None)

    def roles(self, output: Output, drawn: Collection[str] = ()) -> tuple[str, ...]:
        """List the roles that an output may have: declared, waste, and back as it was."""
        back = (RETURNED,) if output.form in drawn and output.form != HEEL else ()
        return tuple(dict.fromkeys((*output.roles, WASTE, *back)))

    def loss(self, account: str) -> Loss | None:
        """Find what the stage says of a loss account; None when it has no such loss."""
        return next((loss for loss in self.losses if loss.account == account), None)

    def check(self, key: str) -> Field | None:
        """Find a check by key."""
        return next((field for field in self.checks if field.key == key), None)

    def setting(self, key: str) -> Field | None:
        """Find a setting by key."""
        return next((field for field in self.settings if field.key == key), None)
