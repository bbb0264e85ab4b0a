"""Making runs: their rows, the lots they give, and the postings they stand for."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from recycling.calc.lots.feed_order import BY_WHAT_IS_KNOWN, FEED_ORDER, WELL_MIXED
from recycling.keeping.lots import NewLot
from recycling.keeping.prepared import Prepared
from recycling.ledger.models import PROCESS
from recycling.ledger.post import Change, border_account, open_accounts, take_numbers
from recycling.ledger.sql import insert
from recycling.models import Run
from recycling.queries.runs.feed_order import logged_runs
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import OutputEntry
from recycling.stages.declaration import HEEL, RUN_POLYMER, UNACCOUNTED, Stage
from shared.codes import code_for

BorderName = tuple[str, str]
"""Name and polymer of a border account."""


def start_run(
    actor: Actor,
    prepared: Prepared,
    state: str,
    origin_id: int | None = None,
    number: int = 0,
    account_id: int = 0,
) -> Run:
    """Store the run's row under the next code, and who worked on it.

    A number is taken, and an account opened, unless they are given.
    """
    account_id = account_id or open_accounts(actor.workshop_id, [account_of(prepared)])[0]
    number = number or take_numbers(actor.workshop_id, 1)[0]
    run = Run(
        account_id=account_id,
        workshop_id=actor.workshop_id,
        code=code_for("R", number),
        number=number,
        stage=prepared.stage.key,
        state=state,
        polymer=prepared.polymer,
        machine=prepared.machine,
        origin_id=origin_id,
        started_at=prepared.entry.started_at,
        ended_at=prepared.entry.ended_at,
        note=prepared.entry.note,
        composition_model=prepared.entry.composition_model or _model_of(prepared, state),
    )
    run.save(force_insert=True)
    members = [member.pk for member in prepared.operators] or [actor.member_id]
    insert("recycling_runoperator", ("id", "run_id", "member_id"), [(run.pk, pk) for pk in members])
    return run


def _model_of(prepared: Prepared, state: str) -> str:
    """Say how origins are computed where nobody chose: by what is known, where there is an order.

    One lot alone, with no heel before it, has none.
    """
    alone = state != Run.OPEN and len(prepared.drawn) < 2
    return WELL_MIXED if alone or not prepared.stage.keeps_heel else BY_WHAT_IS_KNOWN


def take_known_order(run: Run) -> None:
    """Compute a closed run in feed order, if nobody chose and the times tell the order."""
    if run.composition_model != BY_WHAT_IS_KNOWN:
        return
    logged = logged_runs([run.pk])[run.pk]
    if len(logged.masses.draws) < 2:
        run.composition_model = WELL_MIXED
    elif logged.known:
        run.composition_model = FEED_ORDER
    run.save(update_fields=["composition_model"])


def account_of(prepared: Prepared) -> tuple[str, str]:
    """Say which account a run needs: kind and polymer."""
    return PROCESS, prepared.polymer


def new_lots(prepared: Prepared) -> list[NewLot]:
    """Say which lots a run makes: its outputs, then its heel."""
    entry, declared = prepared.entry, prepared.stage
    forms = [prepared.lots[draw.lot].form for draw in entry.inputs]
    drawn = [prepared.lots[draw.lot] for draw in entry.inputs]
    colour = one_colour(lot.colour for lot in drawn if not declared.fed_besides(lot.form))
    lots = [new_lot(declared, output, prepared.polymer, forms, colour) for output in entry.outputs]
    if entry.heel:
        lots.append(
            NewLot(
                form=HEEL,
                polymer=entry.heel.polymer or prepared.polymer,
                mass_mg=entry.heel.mass_mg,
                role=HEEL,
                machine_id=prepared.machine.pk if prepared.machine else None,
            )
        )
    return lots


def one_colour(colours: Iterable[str]) -> str:
    """Give the colour of what went in, where all of it has the same."""
    found = set(colours)
    return found.pop() if len(found) == 1 else ""


def new_lot(
    declared: Stage, output: OutputEntry, polymer: str, forms: Collection[str], colour: str = ""
) -> NewLot:
    """Say which lot one output is; `forms` are those that went in, `colour` that of all of it.

    What is of the run's own polymer keeps the colour that went in, unless another is said.
    """
    given = declared.output(output.form, forms)
    assert given is not None, "outputs are checked before lots are made"
    return NewLot(
        form=output.form,
        polymer=output.polymer or polymer,
        mass_mg=output.mass_mg,
        role=output.role or given.role,
        colour=output.colour or (colour if given.polymer == RUN_POLYMER else ""),
        count=output.count,
        spool=output.spool,
        weighing=output.weighing,
        note=output.note,
    )


def over_border(prepared: Prepared) -> list[tuple[BorderName, int]]:
    """Say what a whole run posts over the border, and how much, mg.

    First measured losses under the run's polymer, then what leaves, each polymer under its own.
    """
    entry, drawn = prepared.entry, prepared.drawn if prepared.stage.border else ()
    leaving: dict[BorderName, int] = {}
    for lot, mass_mg in drawn:
        account = prepared.stage.border, lot.polymer
        leaving[account] = leaving.get(account, 0) + mass_mg
    lost = [((loss.account, prepared.polymer), loss.mass_mg) for loss in entry.losses]
    return lost + list(leaving.items())


def closing_change(workshop_id: int, polymer: str, rest_mg: int) -> list[Change]:
    """Close with the unaccounted posting: what went in and was not seen again."""
    if not rest_mg:
        return []
    return [Change(border_account(workshop_id, UNACCOUNTED, polymer), rest_mg)]
