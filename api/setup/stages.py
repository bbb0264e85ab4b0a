"""The process as it is declared: what each stage takes, gives, loses, checks and logs."""

from __future__ import annotations

from dataclasses import dataclass

from api.protocol.requests import Door, lists
from recycling.records.actors import Actor
from recycling.stages import STAGES
from recycling.stages.cautions import CAUTIONS
from recycling.stages.declaration import Loss, Output, Stage
from recycling.stages.fields import Field


@dataclass(frozen=True)
class Caution:
    """What to mind before the work starts; local codes and licensed practice come first.

    Attributes
    ----------
    name, text : str
        What it is about, and what to do.
    """

    name: str
    text: str


@dataclass(frozen=True)
class Usually:
    """What a stage usually draws.

    Attributes
    ----------
    form : str
        Form of a lot.
    polymers : str
        Of which polymers: "any", "needs drying" or "needs no drying".
    """

    form: str
    polymers: str


@dataclass(frozen=True)
class StageShown:
    """A kind of work on lots.

    Attributes
    ----------
    key, title, summary : str
        Its name in requests, what the work is called, and what is done.
    usual : tuple of Usually
        What it usually draws. It can draw any other form too, but for a heel outside its machine:
        that is recorded as a deviation.
    gives : tuple of Output
        What may come out.
    same_form : bool
        Its product has the form of what was drawn.
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
    melts, dries : bool
        Whether the material melts, and whether water is driven out of it.
    counts : bool
        Whether it sets lots to a counted mass.
    checks, settings : tuple of Field
        What is noted once, and what is logged as it changes.
    cautions : tuple of Caution
        What to mind before the work starts.
    """

    key: str
    title: str
    summary: str
    usual: tuple[Usually, ...]
    gives: tuple[Output, ...]
    same_form: bool
    losses: tuple[Loss, ...]
    border: str
    machine: str
    any_machine: bool
    least_lots: int
    keeps_heel: bool
    melts: bool
    dries: bool
    counts: bool
    checks: tuple[Field, ...]
    settings: tuple[Field, ...]
    cautions: tuple[Caution, ...]


def stage_shown(stage: Stage) -> StageShown:
    """Show a declared stage with the words of its cautions."""
    names = (*stage.cautions, "defer")
    return StageShown(
        key=stage.key,
        title=stage.title,
        summary=stage.summary,
        usual=tuple(Usually(*one) for one in dict.fromkeys((*stage.usual, *stage.also))),
        gives=stage.gives,
        same_form=stage.same_form,
        losses=stage.losses,
        border=stage.border,
        machine=stage.machine,
        any_machine=stage.any_machine,
        least_lots=stage.least_lots,
        keeps_heel=stage.keeps_heel,
        melts=stage.melts,
        dries=stage.dries,
        counts=stage.counts,
        checks=stage.checks,
        settings=stage.settings,
        cautions=tuple(Caution(name, CAUTIONS[name]) for name in names),
    )


class StagesApi(Door):
    needs = {"GET": "read"}

    @lists(StageShown)
    def get(self, actor: Actor) -> list[StageShown]:
        """List the stages in the order material meets them."""
        return [stage_shown(stage) for stage in STAGES]
