"""What the outputs, losses and the heel of a run must obey."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from recycling.keeping.texts import check_text
from recycling.keeping.weighing_rules import check_mass, check_weighing
from recycling.records.lots.mass_entries import HeelEntry, LossEntry, OutputEntry, SpoolEntry
from recycling.stages.declaration import (
    ANOTHER_POLYMER,
    HEEL,
    MIXED,
    RUN_POLYMER,
    Output,
    Stage,
)
from shared.errors import Collected
from shared.said import say


@dataclass(frozen=True)
class WentIn:
    """What a run works on: its polymer, the polymers it drew to work on, and the forms drawn."""

    polymer: str
    worked: tuple[str, ...]
    forms: tuple[str, ...]

    def holds(self, polymer: str) -> bool:
        """Whether a polymer can come out of it; out of what is mixed already, any can."""
        if not self.worked or MIXED in self.worked:
            return not self.polymer or polymer == self.polymer or MIXED in self.worked
        return polymer in self.worked or (polymer == MIXED and len(self.worked) > 1)


def check_stated(polymer: str, worked: Sequence[str], found: Collected) -> None:
    """Note a problem where a run is said to be of a polymer that it does not draw."""
    if polymer and worked and MIXED not in (polymer, *worked) and polymer not in worked:
        found.add(
            "polymer-wrong",
            say(
                "This run is said to be of {polymer}, but it draws {worked}.",
                polymer=polymer,
                worked=", ".join(worked),
            ),
            "/polymer",
        )


def check_output(
    stage: Stage, output: OutputEntry, went_in: WentIn, pointer: str, found: Collected
) -> None:
    """Note problems of one output: form, role, polymer, spool, mass."""
    check_mass(output.mass_mg, f"{pointer}/mass_mg", found)
    check_weighing(output.weighing, output.mass_mg, f"{pointer}/weighing", found)
    check_text(output.colour, f"{pointer}/colour", found, 40)
    check_text(output.note, f"{pointer}/note", found)
    declared = stage.output(output.form, went_in.forms)
    if declared is None:
        forms = ["the form it took"] if stage.same_form else []
        forms += [one.form for one in stage.gives]
        found.add(
            "form-wrong",
            say(
                "{stage} gives {value}, not {form}.",
                stage=stage.title,
                value=", ".join(forms) or "no lots",
                form=output.form,
            ),
            f"{pointer}/form",
        )
        return
    roles = stage.roles(declared, went_in.forms)
    if output.role and output.role not in roles:
        found.add(
            "role-wrong",
            say(
                "{form} can be {roles} here, not {role}.",
                form=output.form,
                roles=" or ".join(roles),
                role=output.role,
            ),
            f"{pointer}/role",
        )
    if output.form == HEEL and stage.keeps_heel:
        found.add("heel-as-output", "Give the heel as the heel.", f"{pointer}/form")
    _check_polymer(declared, output, went_in, pointer, found)
    if output.spool and not declared.spool:
        found.add(
            "spool-wrong", say("{form} cannot be a spool.", form=output.form), f"{pointer}/spool"
        )
    elif output.spool:
        check_spool(output.spool, f"{pointer}/spool", found)
    if output.count is not None and not 0 < output.count < 10**7:
        found.add("count-wrong", "A count is a whole number from 1.", f"{pointer}/count")


def _check_polymer(
    declared: Output, output: OutputEntry, went_in: WentIn, pointer: str, found: Collected
) -> None:
    polymer = went_in.polymer
    own = output.polymer or (polymer if declared.polymer != ANOTHER_POLYMER else "")
    if not own:
        found.add(
            "polymer-missing",
            say("Say which polymer the {form} are.", form=output.form),
            f"{pointer}/polymer",
        )
    elif declared.polymer == RUN_POLYMER and not went_in.holds(own):
        found.add(
            "polymer-wrong",
            say(
                "The {form} of this run are {polymer}, not {own}.",
                form=output.form,
                polymer=", ".join(went_in.worked) or polymer,
                own=own,
            ),
            f"{pointer}/polymer",
        )


def check_spool(spool: SpoolEntry, pointer: str, found: Collected) -> None:
    """Note problems of a spool: a diameter, tolerance, length or tare out of bounds."""
    bounds = {"diameter_mm": (0.5, 5), "tolerance_mm": (0, 1), "length_m": (0, 100_000)}
    for name, (low, high) in bounds.items():
        value = getattr(spool, name)
        if value is not None and not (math.isfinite(value) and low <= value <= high):
            found.add(
                "number-out-of-bounds",
                say("Between {low} and {high}.", low=low, high=high),
                f"{pointer}/{name}",
            )
    if spool.tare_mg is not None:
        check_mass(spool.tare_mg, f"{pointer}/tare_mg", found)


def check_losses(stage: Stage, losses: tuple[LossEntry, ...], found: Collected) -> None:
    """Note problems of measured losses: unknown account, negative where none may be."""
    for place, loss in enumerate(losses):
        pointer = f"/losses/{place}"
        declared = stage.loss(loss.account)
        if declared is None:
            names = ", ".join(one.account for one in stage.losses) or "none"
            found.add(
                "loss-wrong",
                say(
                    "{stage} has these losses: {names}; “{account}” is not one of them.",
                    stage=stage.title,
                    names=names,
                    account=loss.account,
                ),
                f"{pointer}/account",
            )
        else:
            size = abs(loss.mass_mg) if declared.gain else loss.mass_mg
            check_mass(size, f"{pointer}/mass_mg", found)
        check_text(loss.how, f"{pointer}/how", found, 300)
        weighing = replace(loss.known_by, note=loss.weighing.note)
        check_weighing(weighing, loss.mass_mg, f"{pointer}/weighing", found)


def check_heel(stage: Stage, heel: HeelEntry | None, found: Collected) -> None:
    """Note problems of a heel: a stage that keeps none, a mass out of bounds."""
    if heel is None:
        return
    if not stage.keeps_heel:
        found.add(
            "heel-wrong", say("{stage} leaves no heel in its machine.", stage=stage.title), "/heel"
        )
    check_mass(heel.mass_mg, "/heel/mass_mg", found)
