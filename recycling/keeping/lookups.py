"""Finding what an entry names, among the workshop's own rows only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType
from typing import TypeVar

from django.db.models import Model, QuerySet
from django.utils import timezone

from recycling.calc.balance.typed_limits import CLOCK_SLACK
from recycling.ledger.sql import marks, rows
from recycling.models import BottleSample, Machine, Member, Origin, Polymer, Run, Scale
from recycling.records.lots.mass_entries import WeighingEntry
from recycling.stages.declaration import MIXED
from shared.codes import LETTERS, read_code
from shared.errors import Collected, Unknown
from shared.said import say

Row = TypeVar("Row", bound=Model)
EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
OLDEST, LAST = EARLIEST.replace(year=1970), EARLIEST.replace(year=2100)
"""What is recorded may be of any time between them: a doubt asks about what is odd."""
_NO_OFFSET = say("A time needs its offset, as in +02:00 or Z.")
_TO_COME = say("This time is still to come; check the date.")
_LOTS = """
SELECT l.account_id, l.code, l.form, l.polymer, l.colour, l.made_mg, a.balance_mg,
       l.made_by_id, r.state
  FROM recycling_lot l JOIN ledger_account a ON a.id = l.account_id
  JOIN recycling_run r ON r.account_id = l.made_by_id
 WHERE l.workshop_id = %s AND l.code IN ({})
"""


@dataclass(frozen=True)
class Means:
    """Scales and samples of bottles that weighings name, by name."""

    scales: Mapping[str, Scale]
    samples: Mapping[str, BottleSample]


NO_MEANS = Means(MappingProxyType({}), MappingProxyType({}))


@dataclass(frozen=True)
class LotFacts:
    """What a deed must know of a lot it touches; masses in mg."""

    lot_id: int
    code: str
    form: str
    polymer: str
    colour: str
    made_mg: int
    on_hand_mg: int
    made_by_id: int
    made_by_state: str


def lots_by_code(workshop_id: int, codes: Iterable[str]) -> dict[str, LotFacts]:
    """Fetch lots by their codes, as typed; codes that name none are left out."""
    wanted: dict[str, list[str]] = {}
    for typed in codes:
        wanted.setdefault(read_code(typed) or typed, []).append(typed)
    found = rows(_LOTS.format(marks(list(wanted))), [workshop_id, *wanted])
    return {typed: LotFacts(*row) for row in found for typed in wanted[row[1]]}


def lot_named(workshop_id: int, code: str, pointer: str = "") -> LotFacts:
    """Fetch one lot by its code, or say that there is none."""
    found = lots_by_code(workshop_id, [code])
    if code not in found:
        raise Unknown.because("lot-unknown", unknown_code(code, "lot"), pointer)
    return found[code]


def unknown_code(code: str, what: str) -> str:
    """Say in words why a code names nothing here."""
    if read_code(code) is None and code[:1].upper() in LETTERS:
        return (
            f"“{code}” is not a code of this book: its check character does not fit,"
            " so a digit may be wrong. Look at the label again."
        )
    return f"There is no {what} “{code}” in this workshop."


def run_named(workshop_id: int, code: str) -> Run:
    """Fetch one run by its code, or say that there is none."""
    run = Run.objects.filter(workshop_id=workshop_id, code=read_code(code) or code).first()
    if run is None:
        raise Unknown.because("run-unknown", unknown_code(code, "run"))
    return run


def origin_named(workshop_id: int, code: str, pointer: str = "") -> Origin:
    """Fetch one collection, purchase or opening count by its code."""
    origin = Origin.objects.filter(workshop_id=workshop_id, code=read_code(code) or code).first()
    if origin is None:
        raise Unknown.because("origin-unknown", unknown_code(code, "collection"), pointer)
    return origin


def _named(rows: QuerySet[Row], name: str, what: str, pointer: str, found: Collected) -> Row | None:
    if not name:
        return None
    row = rows.filter(name=name).first()
    if row is None and name.isascii() and name.isdigit():
        row = rows.filter(pk=int(name)).first() if len(name) < 18 else None
    if row is None:
        found.add(
            f"{what}-unknown",
            say(
                "There is no {what} “{name}” in this workshop; choose one from the list or add it.",
                what=what,
                name=name,
            ),
            pointer,
        )
    return row


def machine_named(workshop_id: int, name: str, pointer: str, found: Collected) -> Machine | None:
    """Find a machine by name or id; notes a problem when it is unknown."""
    return _named(Machine.objects.filter(workshop_id=workshop_id), name, "machine", pointer, found)


def row_named(
    model: type[Row], workshop_id: int, name: str, what: str, pointer: str, found: Collected
) -> Row | None:
    """Find a source, programme, scale or container by name or id."""
    rows = model._default_manager.filter(workshop_id=workshop_id)
    return _named(rows, name, what, pointer, found)


def check_scales(
    workshop_id: int, weighings: Iterable[tuple[str, WeighingEntry]], found: Collected
) -> Means:
    """Find what weighings name; notes a problem for each scale or sample that is not set up.

    Each weighing stands with its pointer.
    """
    weighings = list(weighings)
    means = means_named(workshop_id, [entry for _, entry in weighings])
    for pointer, name in [(pointer, entry.scale) for pointer, entry in weighings if entry.scale]:
        if name not in means.scales:
            found.add(
                "scale-unknown",
                say(
                    "There is no scale “{name}” in this workshop; choose one from the"
                    " list or add it.",
                    name=name,
                ),
                f"{pointer}/scale",
            )
    for pointer, name in [(pointer, entry.sample) for pointer, entry in weighings if entry.sample]:
        if name not in means.samples:
            found.add(
                "sample-unknown",
                say(
                    "There is no sample of bottles “{name}” in this workshop; weigh one first.",
                    name=name,
                ),
                f"{pointer}/sample",
            )
    return means


def means_named(workshop_id: int, weighings: Iterable[WeighingEntry]) -> Means:
    """Fetch the scales and samples that weighings name."""
    weighings = list(weighings)
    return Means(
        scales_named(workshop_id, [entry.scale for entry in weighings]),
        samples_named(workshop_id, [entry.sample for entry in weighings]),
    )


def scales_named(workshop_id: int, names: Iterable[str]) -> dict[str, Scale]:
    """Fetch scales by name."""
    wanted = {name for name in names if name}
    if not wanted:
        return {}
    rows = Scale.objects.filter(workshop_id=workshop_id, name__in=wanted)
    return {scale.name: scale for scale in rows}


def samples_named(workshop_id: int, names: Iterable[str]) -> dict[str, BottleSample]:
    """Fetch samples of bottles by name, each with its scale."""
    wanted = {name for name in names if name}
    if not wanted:
        return {}
    rows = BottleSample.objects.filter(workshop_id=workshop_id, name__in=wanted)
    rows = rows.select_related("scale")
    return {sample.name: sample for sample in rows}


def members_named(
    workshop_id: int, names: tuple[str, ...], pointer: str, found: Collected
) -> list[Member]:
    """Fetch members by name; notes a problem for each that is unknown."""
    if not names:
        return []
    rows = Member.objects.filter(workshop_id=workshop_id, name__in=names, left_at=None)
    members = {member.name: member for member in rows}
    for place, name in enumerate(names):
        if name not in members:
            found.add(
                "member-unknown",
                say("There is no member “{name}” here.", name=name),
                f"{pointer}/{place}",
            )
    return list(members.values())


def check_polymers(workshop_id: int, wanted: dict[str, str], found: Collected) -> None:
    """Note a problem for each polymer code (given with its pointer) that is not set up."""
    missing = {code for code in wanted.values() if code and code != MIXED}
    if missing:
        rows = Polymer.objects.filter(workshop_id=workshop_id, code__in=missing)
        missing -= set(rows.values_list("code", flat=True))
    for pointer, code in wanted.items():
        if code in missing:
            found.add(
                "polymer-unknown",
                say(
                    "There is no polymer “{code}” in this workshop; add it under Workshop.",
                    code=code,
                ),
                pointer,
            )


def check_moment(moment: datetime, pointer: str, found: Collected) -> None:
    """Note a problem when a time has no offset, lies ahead, or lies before any book."""
    if timezone.is_naive(moment):
        found.add("time-without-offset", _NO_OFFSET, pointer)
    elif moment > timezone.now() + CLOCK_SLACK:
        found.add("time-in-future", _TO_COME, pointer)
    elif moment < EARLIEST:
        found.add("time-too-early", "This time is before 2000; check the year.", pointer)


def check_typed_moment(moment: datetime, pointer: str, found: Collected) -> None:
    """Note a problem of a time that is asked about where it is odd: no offset, or no date of ours.

    Where it is still to come, or before the book, `keeping/doubts.py` asks.
    """
    if timezone.is_naive(moment):
        found.add("time-without-offset", _NO_OFFSET, pointer)
    elif moment >= LAST:
        found.add("time-in-future", _TO_COME, pointer)
    elif moment < OLDEST:
        found.add("time-too-early", "This time is before 1970; check the year.", pointer)
