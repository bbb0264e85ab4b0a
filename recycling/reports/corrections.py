"""What was written in a report's period about earlier ones: corrections and late entries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from django.utils.translation import gettext as _

from recycling.ledger.models import BORDER, LOT, Posting
from recycling.records.reports.documents import DAY, Cell, Column, Section, Table
from recycling.reports.movements import Movements
from recycling.reports.places import account_title, mass, words
from recycling.stages.declaration import LOSSES, UNACCOUNTED

CORRECTING = ("correct", "void")


def corrections_sections(found: Movements) -> tuple[Section, ...]:
    """Show what was written in this period about earlier ones, dated; no section for nothing."""
    rows = tuple(_late(found))
    if not rows:
        return ()
    text = _(
        "Each entry counts in the period in which it happened. What was corrected, voided or"
        " entered late in this period about earlier ones changes no figure of this period except"
        " the opening stock; it is listed here by its dates. The reasons stand in the book."
    )
    table = Table(
        "corrections",
        _("Corrections to earlier periods"),
        (
            Column("written_day", _("Written"), DAY),
            Column("happened_day", _("Happened"), DAY),
            words("kind", _("What")),
            words("run", _("Run")),
            words("what", _("Lot or loss")),
            words("polymer", _("Polymer")),
            mass("mass_mg", _("Change")),
        ),
        rows,
    )
    title = _("Corrections to earlier periods")
    return (Section("corrections", title, (text,), tables=(table,)),)


def _late(found: Movements) -> Iterator[tuple[Cell, ...]]:
    scope = found.scope
    rows = (
        Posting.objects.filter(
            entry__book_id=scope.actor.workshop_id,
            entry__happened_at__lt=scope.start,
            entry__written_at__gte=scope.start,
            entry__written_at__lt=scope.end,
            account__kind__in=[LOT, BORDER],
        )
        .order_by("entry__written_at", "pk")
        .values_list(
            "entry__written_at",
            "entry__happened_at",
            "entry__kind",
            "entry__process_id",
            "account__name",
            "account_id",
            "account__commodity",
            "mass_mg",
        )
    )
    entered: dict[tuple[str, str, str, str], int] = defaultdict(int)
    for written, happened, kind, run_id, name, account_id, polymer, mass_mg in rows.iterator():
        if name and name not in (*LOSSES, UNACCOUNTED):
            continue
        part_mg = mass_mg if name else found.part(account_id, mass_mg)
        if (name and not scope.is_whole) or not part_mg:
            continue
        what = account_title(name) if name else found.lots[account_id].code
        days = scope.day(written), scope.day(happened)
        if kind in CORRECTING:
            title = _("Corrected") if kind == "correct" else _("Voided")
            yield (*days, title, found.runs[run_id].code, what, polymer, part_mg)
        else:
            form = account_title(name) if name else found.lots[account_id].form
            entered[(*days, form, polymer)] += part_mg
    for (*days_of, form, polymer), mass_mg in entered.items():
        yield (*days_of, _("Entered late"), "", form, polymer, mass_mg)
