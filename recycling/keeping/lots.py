"""Making lots: their accounts, codes, spools and weighings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from uuid import UUID

from recycling.keeping.lookups import Means, means_named
from recycling.ledger.models import LOT
from recycling.ledger.post import open_accounts, take_numbers
from recycling.models import Lot, Spool, Weighing
from recycling.records.lots.mass_entries import SpoolEntry, WeighingEntry
from shared.codes import code_for

AccountKinds = list[tuple[str, str]]
NOTHING_COUNTED: Mapping[int, int] = MappingProxyType({})


@dataclass(frozen=True)
class NewLot:
    """A lot to be made; `mass_mg` in mg."""

    form: str
    polymer: str
    mass_mg: int
    role: str
    colour: str = ""
    origin_id: int | None = None
    machine_id: int | None = None
    count: int | None = None
    spool: SpoolEntry | None = None
    weighing: WeighingEntry = WeighingEntry()
    note: str = ""


def accounts_of(new: Sequence[NewLot]) -> AccountKinds:
    """Say which accounts new lots need: kind and polymer of each."""
    return [(LOT, lot.polymer) for lot in new]


def make_lots(
    workshop_id: int,
    run_id: int,
    new: Sequence[NewLot],
    numbers: Sequence[int] = (),
    accounts: Sequence[int] = (),
) -> list[Lot]:
    """Store each new lot under the next code; needs the lock.

    Numbers are taken, and accounts opened, unless they are given.
    """
    if not new:
        return []
    accounts = accounts or open_accounts(workshop_id, accounts_of(new))
    numbers = numbers or take_numbers(workshop_id, len(new))
    lots = Lot.objects.bulk_create(
        Lot(
            account_id=account_id,
            workshop_id=workshop_id,
            code=code_for("S" if lot.spool else "L", number),
            number=number,
            form=lot.form,
            polymer=lot.polymer,
            colour=lot.colour,
            role=lot.role,
            made_by_id=run_id,
            made_mg=lot.mass_mg,
            origin_id=lot.origin_id,
            machine_id=lot.machine_id,
            count=lot.count,
            note=lot.note,
        )
        for account_id, number, lot in zip(accounts, numbers, new, strict=True)
    )
    spools = [
        Spool(
            lot_id=lot.pk,
            diameter_mm=wanted.spool.diameter_mm,
            tolerance_mm=wanted.spool.tolerance_mm,
            tare_mg=wanted.spool.tare_mg,
            length_m=wanted.spool.length_m,
        )
        for lot, wanted in zip(lots, new, strict=True)
        if wanted.spool
    ]
    if spools:
        Spool.objects.bulk_create(spools)
    return lots


def keep_weighings(
    workshop_id: int,
    reader: UUID,
    weighed: Sequence[tuple[int | None, WeighingEntry]],
    counted: Mapping[int, int] = NOTHING_COUNTED,
    means: Means | None = None,
) -> None:
    """Store how the mass of each posting became known, where anything was said of it.

    `counted` maps the place of each mass that a count found to the count, posted or not; `means`
    are the scales and samples named, where they were found already.
    """
    numbered = [(place, *one) for place, one in enumerate(weighed)]
    numbered = [one for one in numbered if one[2] != WeighingEntry()]
    if not numbered:
        return
    means = means or means_named(workshop_id, [entry for _, _, entry in numbered])
    Weighing.objects.bulk_create(
        Weighing(
            posting_id=posting,
            counted_id=counted.get(place),
            how=entry.how,
            gross_mg=entry.gross_mg,
            tare_mg=entry.tare_mg,
            scale=means.scales.get(entry.scale),
            sample=means.samples.get(entry.sample),
            u_mg=entry.u_mg,
            raw=entry.raw,
            reader=reader,
            note=entry.note,
        )
        for place, posting, entry in numbered
    )
