"""Books of random deeds of every kind, told through the services; refused ones are left out."""

from __future__ import annotations

import random

from recycling.models import Lot, Run
from recycling.records.lots.notes import LotEventEntry
from recycling.records.quality.entries import VerdictEntry
from recycling.services.lots import lot_notes
from recycling.services.quality.verdict_give import verdict_give
from shared.errors import Refused
from tests.factories import G
from tests.histories import Told, tell

TAKES = {
    "bottles": "sort",
    "clean bottles": "shred",
    "flake": "dry",
    "oversize": "shred",
    "dried flake": "extrude",
    "heel": "extrude",
}
GIVES = {
    "sort": ("clean bottles {0}mg, caps HDPE {1}mg, ~residue {2}mg", (80, 8, 4)),
    "shred": ("flake {0}mg, oversize {1}mg, fines {2}mg, ~dust {3}mg", (70, 15, 5, 3)),
    "dry": ("dried flake {0}mg, ~water {1}mg", (97, 2)),
    "extrude": ("filament {0}mg spool, offcuts {1}mg, heel {2}mg", (80, 5, 6)),
}
START = "C1: bottles PET 9kg, 4kg\nC2: bottles PET 3kg\nP3: purge compound purge 5kg"
EVENTS = ("sealed", "opened", "moved", "printed", "note")


class NothingToDo(Exception):
    """There is no lot or run that a deed could be done to."""


def random_book(seed: int, deeds: int = 60) -> Told:
    """Tell a book of random deeds; equal seeds give equal books but for identities."""
    chance, told = random.Random(seed), tell(START)
    for number in range(4, 4 + deeds):
        try:
            _deed(chance, told, number)
        except (Refused, NothingToDo):
            continue
    return told


def _deed(chance: random.Random, told: Told, number: int) -> None:
    deeds = (_run, _run, _run, _run, _live, _leave, _count, _correct, _void, _hold, _note)
    chance.choice(deeds)(chance, told, number)


def _lots(told: Told, forms=()) -> list[str]:
    """Name the lots with mass on hand, by their names in the text."""
    names = {code: name for name, code in told.codes.items()}
    rows = Lot.objects.filter(workshop_id=told.actor.workshop_id, account__balance_mg__gt=2 * G)
    rows = rows.filter(form__in=forms) if forms else rows
    found = [names[code] for code in rows.order_by("number").values_list("code", flat=True)]
    if not found:
        raise NothingToDo
    return found


def _drawn(chance: random.Random, told: Told) -> tuple[str, list[str], int]:
    lots = _lots(told, tuple(TAKES))
    first = chance.choice(lots)
    form = told.lot(first).form
    same = [lot for lot in lots if told.lot(lot).form == form and form != "heel"]
    chosen = {first, *chance.sample(same, min(len(same), chance.randint(0, 2)))}
    parts, total = [], 0
    for lot in sorted(chosen):
        have = told.on_hand(lot)
        mass = have if chance.random() < 0.3 else chance.randint(1 * G, have)
        parts.append(f"{lot} {mass}mg")
        total += mass
    return TAKES[form], parts, total


def _given(chance: random.Random, stage: str, total: int) -> str:
    pattern, shares = GIVES[stage]
    return pattern.format(
        *(max(1, total * share * chance.randint(7, 10) // 1000) for share in shares)
    )


def _run(chance: random.Random, told: Told, number: int) -> None:
    stage, parts, total = _drawn(chance, told)
    told.tell(f"R{number} {stage} {', '.join(parts)} -> {_given(chance, stage, total)}")


def _live(chance: random.Random, told: Told, number: int) -> None:
    stage, parts, total = _drawn(chance, told)
    told.tell(f"open R{number} {stage} {parts[0]}")
    for part in parts[1:]:
        told.tell(f"R{number} draws {part}")
    if stage == "shred":
        told.tell(f"R{number} gives flake {max(1, total // 3)}mg, fines {max(1, total // 20)}mg")
        told.tell(f"R{number} loses ~dust {max(1, total // 50)}mg")
    if chance.random() < 0.7:
        told.tell(f"close R{number}")


def _leave(chance: random.Random, told: Told, number: int) -> None:
    lot = chance.choice(_lots(told, ("caps", "filament", "fines", "offcuts")))
    stage = chance.choice(("dispatch", "discard"))
    told.tell(f"R{number} {stage} {lot} {chance.randint(1, told.on_hand(lot))}mg")


def _count(chance: random.Random, told: Told, number: int) -> None:
    lots = _lots(told)[-2:]
    counts = [f"{lot} {chance.choice((0, 1)) * told.on_hand(lot) * 99 // 100}mg" for lot in lots]
    told.tell(f"count R{number}: {', '.join(counts)}")


def _runs(told: Told) -> list[str]:
    rows = Run.objects.filter(workshop_id=told.actor.workshop_id).exclude(state=Run.VOID)
    codes = set(rows.values_list("code", flat=True))
    return sorted(name for name, code in told.codes.items() if code in codes and name[0] == "R")


def _correct(chance: random.Random, told: Told, number: int) -> None:
    run = chance.choice(_runs(told))
    drawn = [row.lot.code for row in told.run(run).draws.select_related("lot")]
    given = [lot.code for lot in told.run(run).outputs.all()]
    what, lots = chance.choice((("draw", drawn), ("gave", given)))
    if lots:
        mass = chance.choice((0, chance.randint(1, 900 * G)))
        told.tell(f"correct {run} {what} {chance.choice(lots)} {mass or 1}mg")


def _void(chance: random.Random, told: Told, number: int) -> None:
    told.tell(f"void {chance.choice(_runs(told))}")


def _hold(chance: random.Random, told: Told, number: int) -> None:
    lot = chance.choice(_lots(told))
    told.tell(f"hold {lot}{chance.choice(('', ' spreading'))}")
    if chance.random() < 0.8:
        told.tell(f"release {lot}")


def _note(chance: random.Random, told: Told, number: int) -> None:
    lot, kind = told.code(chance.choice(_lots(told))), chance.choice(EVENTS)
    entry = LotEventEntry(lot, kind, told.now, place="shelf 3", note="with Ada's help")
    lot_notes.lot_event(told.actor, entry)
    spool, good = told.code(chance.choice(_lots(told, ("filament",)))), chance.random() < 0.5
    defects = () if good else ("brittle",)
    verdict_give(told.actor, VerdictEntry(spool, good, defects, "so said Ada"))
