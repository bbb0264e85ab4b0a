"""Record what comes in: a collection, a purchase or an opening count."""

from __future__ import annotations

from dataclasses import replace

from recycling.keeping.compositions import store_new
from recycling.keeping.counted_pieces import with_masses_counted
from recycling.keeping.deed import deed, undo_until
from recycling.keeping.doubted_figures import Figure
from recycling.keeping.doubts import asked_of, told
from recycling.keeping.heels import check_heel_fits
from recycling.keeping.lookups import (
    Means,
    check_polymers,
    check_scales,
    check_typed_moment,
    machine_named,
    row_named,
)
from recycling.keeping.lots import NewLot, keep_weighings, make_lots
from recycling.keeping.posting import post_run
from recycling.keeping.prepared import Prepared
from recycling.keeping.runs import start_run
from recycling.keeping.texts import check_texts
from recycling.keeping.weighing_rules import check_mass, check_weighing
from recycling.ledger.post import Change, border_account, take_numbers
from recycling.models import Lot, Origin, Programme, Run, Source
from recycling.queries.process.purges import unnamed_compounds
from recycling.records.actors import Actor
from recycling.records.lots.origin_entries import BagEntry, OriginEntry, OriginTexts
from recycling.records.recorded import OriginRecorded, lots_made
from recycling.records.runs.entries import RunEntry
from recycling.stages import RECEIVING, first_of
from recycling.stages.declaration import FORMS, HEEL, PRODUCT, RECEIVED
from shared.codes import code_for
from shared.declared import texts_of
from shared.errors import Collected
from shared.said import say

LETTER = {Origin.COLLECTION: "C", Origin.PURCHASE: "P", Origin.OPENING: "O"}
MOST_BAGS = 200


@deed("record")
def origin_record(actor: Actor, entry: OriginEntry) -> OriginRecorded:
    """Weigh in bags: each becomes a lot whose only origin is this one.

    Raises
    ------
    Refused
        With every problem of the entry.
    """
    found = Collected()
    bags = with_masses_counted(actor.workshop_id, entry.bags, "/bags", found)
    entry = replace(entry, bags=bags)
    origin, machines, means = _checked(actor, entry, found)
    origin.save(force_insert=True)
    receiving = first_of(RECEIVING)
    receive = RunEntry(
        receiving.key, started_at=entry.happened_at, ended_at=entry.happened_at, note=entry.note
    )
    polymer = max(entry.bags, key=lambda bag: bag.mass_mg).polymer
    prepared = Prepared(receiving, receive, polymer, None, (), {}, ())
    run = start_run(actor, prepared, Run.CLOSED, origin.pk)
    lots = make_lots(
        actor.workshop_id,
        run.pk,
        [_lot(bag, origin.pk, machines.get(place)) for place, bag in enumerate(entry.bags)],
    )
    received: dict[str, int] = {}
    for lot in lots:
        received[lot.polymer] = received.get(lot.polymer, 0) + lot.made_mg
    changes = [Change(lot.pk, lot.made_mg) for lot in lots] + [
        Change(border_account(actor.workshop_id, RECEIVED, polymer), -mass_mg)
        for polymer, mass_mg in received.items()
    ]
    postings = post_run(actor, run, "receive", entry.happened_at, changes)
    how = [bag.weighing for bag in entry.bags]
    keep_weighings(actor.workshop_id, actor.reference, list(zip(postings, how, strict=False)))
    store_new([(lot.pk, {origin.pk: lot.made_mg}) for lot in lots])
    figures = [
        _figure(place, bag, lot, origin)
        for place, (bag, lot) in enumerate(zip(entry.bags, lots, strict=True))
    ]
    times = [("/happened_at", entry.happened_at)]
    unsure = asked_of(actor, run, figures, means, moments=times)
    unsure += told("compound-unnamed", unnamed_compounds(actor.workshop_id, lots))
    made = lots_made(lots)
    return OriginRecorded(origin.code, origin.kind, run.code, made, unsure, undo_until())


def _checked(
    actor: Actor, entry: OriginEntry, found: Collected
) -> tuple[Origin, dict[int, int], Means]:
    workshop_id = actor.workshop_id
    check_typed_moment(entry.happened_at, "/happened_at", found)
    if entry.kind not in LETTER:
        found.add("kind-unknown", say("One of {letter}.", letter=", ".join(LETTER)), "/kind")
        found.refuse()
    source = row_named(Source, workshop_id, entry.source, "source", "/source", found)
    programme = row_named(Programme, workshop_id, entry.programme, "programme", "/programme", found)
    if entry.kind == Origin.COLLECTION and not entry.source:
        found.add("source-missing", "Say who gave it.", "/source")
    check_texts(entry, "", found)
    if not 0 < len(entry.bags) <= MOST_BAGS:
        found.add(
            "bags-missing",
            say("Weigh in from one to {most_bags} bags.", most_bags=MOST_BAGS),
            "/bags",
        )
    machines, means = _checked_bags(workshop_id, entry, found)
    found.refuse()
    (number,) = take_numbers(workshop_id, 1)
    origin = Origin(
        workshop_id=workshop_id,
        kind=entry.kind,
        code=code_for(LETTER[entry.kind], number),
        number=number,
        source=source,
        programme=programme,
        happened_at=entry.happened_at,
        received_by=actor.reference,
        **texts_of(OriginTexts, entry),
    )
    return origin, machines, means


def _heel_words(heel: bool) -> str:
    """Say what is missing of a heel, or too much of what is none."""
    if heel:
        return say("Choose the machine that this heel is in.")
    return say("Only a heel is in a machine: choose heel, or no machine.")


def _checked_bags(
    workshop_id: int, entry: OriginEntry, found: Collected
) -> tuple[dict[int, int], Means]:
    machines: dict[int, int] = {}
    weighed = [(f"/bags/{place}/weighing", bag.weighing) for place, bag in enumerate(entry.bags)]
    means = check_scales(workshop_id, weighed, found)
    for place, bag in enumerate(entry.bags):
        pointer = f"/bags/{place}"
        check_mass(bag.mass_mg, f"{pointer}/mass_mg", found)
        check_weighing(bag.weighing, bag.mass_mg, f"{pointer}/weighing", found)
        check_texts(bag, pointer, found)
        if bag.form not in FORMS:
            found.add(
                "form-wrong", say("There is no form “{form}”.", form=bag.form), f"{pointer}/form"
            )
        if not bag.polymer:
            found.add("polymer-missing", "Say which polymer it is.", f"{pointer}/polymer")
        if bag.count is not None and not 0 < bag.count < 10**7:
            found.add("count-wrong", "A count is a whole number from 1.", f"{pointer}/count")
        if (bag.form == HEEL) != bool(bag.machine):
            found.add("heel-machine", _heel_words(bag.form == HEEL), f"{pointer}/machine")
        machine = machine_named(workshop_id, bag.machine, f"{pointer}/machine", found)
        if machine is not None:
            check_heel_fits(machine, machine.pk in machines.values(), pointer, found)
            machines[place] = machine.pk
    check_polymers(
        workshop_id,
        {f"/bags/{place}/polymer": bag.polymer for place, bag in enumerate(entry.bags)},
        found,
    )
    return machines, means


def _figure(place: int, bag: BagEntry, lot: Lot, origin: Origin) -> Figure:
    return Figure(
        f"/bags/{place}",
        bag.form,
        bag.mass_mg,
        bag.weighing,
        lot.pk,
        bag.form,
        bag.polymer,
        origin.source_id,
        count=bag.count,
    )


def _lot(bag: BagEntry, origin_id: int, machine_id: int | None) -> NewLot:
    return NewLot(
        form=bag.form,
        polymer=bag.polymer,
        mass_mg=bag.mass_mg,
        role=HEEL if bag.form == HEEL else PRODUCT,
        colour=bag.colour,
        origin_id=origin_id,
        machine_id=machine_id,
        count=bag.count,
        weighing=bag.weighing,
        note=bag.note,
    )
