"""What the outputs, losses and the heel of a run must obey."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from recycling.keeping.texts import check_text
from recycling.keeping.weighing_rules import check_mass, check_weighing
from recycling.records.lots.mass_entries import HeelEntry, LossEntry, OutputEntry, SpoolEntry
from recycling.stages.declaration import ANOTHER_POLYMER, HEEL, RUN_POLYMER, Output, Stage
from shared.errors import Collected
from shared.said import say


def check_output(
    stage: Stage, output: OutputEntry, polymer: str, pointer: str, found: Collected
) -> None:
    """Note problems of one output: form, role, polymer, spool, mass."""
    check_mass(output.mass_mg, f"{pointer}/mass_mg", found)
    check_weighing(output.weighing, output.mass_mg, f"{pointer}/weighing", found)
    check_text(output.colour, f"{pointer}/colour", found, 40)
    check_text(output.note, f"{pointer}/note", found)
    declared = stage.output(output.form)
    if declared is None:
        forms = [o.form for o in stage.gives] or (["the form it took"] if stage.same_form else [])
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
    if output.role and output.role not in declared.roles:
        found.add(
            "role-wrong",
            say(
                "{form} can be {roles} here, not {role}.",
                form=output.form,
                roles=" or ".join(declared.roles),
                role=output.role,
            ),
            f"{pointer}/role",
        )
    if output.form == HEEL and stage.keeps_heel:
        found.add("heel-as-output", "Give the heel as the heel.", f"{pointer}/form")
    _check_polymer(declared, output, polymer, pointer, found)
    if output.spool and not declared.spool:
        found.add(
            "spool-wrong", say("{form} cannot be a spool.", form=output.form), f"{pointer}/spool"
        )
    elif output.spool:
        check_spool(output.spool, f"{pointer}/spool", found)
    if output.count is not None and not 0 < output.count < 10**7:
        found.add("count-wrong", "A count is a whole number from 1.", f"{pointer}/count")


def _check_polymer(
    declared: Output, output: OutputEntry, polymer: str, pointer: str, found: Collected
) -> None:
    own = output.polymer or (polymer if declared.polymer != ANOTHER_POLYMER else "")
    if not own:
        found.add(
            "polymer-missing",
            say("Say which polymer the {form} are.", form=output.form),
            f"{pointer}/polymer",
        )
    elif declared.polymer == RUN_POLYMER and polymer and own != polymer:
        found.add(
            "polymer-wrong",
            say(
                "The {form} of this run are {polymer}, not {own}.",
                form=output.form,
                polymer=polymer,
                own=own,
            ),
            f"{pointer}/polymer",
        )
    elif declared.polymer == ANOTHER_POLYMER and own == polymer:
        found.add(
            "polymer-wrong",
            say(
                "The {form} are another polymer than the run's {polymer}; say"
                " which, so that each counts under its own.",
                form=output.form,
                polymer=polymer,
            ),
            f"{pointer}/polymer",
        )


def check_same_form(
    stage: Stage, drawn: Sequence[str], outputs: Sequence[OutputEntry], found: Collected
) -> None:
    """Note a problem for each product of another form than was drawn, where it stays the same."""
    if not stage.same_form or not drawn:
        return
    for place, output in enumerate(outputs):
        if output.form in stage.takes and output.form != drawn[0]:
            found.add(
                "form-differs",
                say(
                    "{stage} keeps to one form; {drawn} was drawn, not {form}.",
                    stage=stage.title,
                    drawn=drawn[0],
                    form=output.form,
                ),
                f"/outputs/{place}/form",
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
