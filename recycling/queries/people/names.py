"""Names for the references that the ledger keeps of people."""

from __future__ import annotations

from uuid import UUID

from django.db.models import OuterRef, Subquery

from recycling.models import EarlierName, Member
from recycling.records.people import EarlierNameRecord

FORMER = "a former member"


def name_behind(reference: str) -> Subquery:
    """Name the person behind a column of references, within the same query."""
    return Subquery(Member.objects.filter(reference=OuterRef(reference)).values("name")[:1])


def named(name: str | None, reference: UUID | None) -> str:
    """Return the name that was found behind a reference; empty when there is none."""
    return name or (FORMER if reference else "")


def earlier_names(workshop_id: int, subject: str) -> list[EarlierNameRecord]:
    """List what somebody was called before, the newest name first."""
    rows = EarlierName.objects.filter(workshop_id=workshop_id, subject=subject).order_by("-number")
    return [EarlierNameRecord(*one) for one in rows.values_list("name", "until_at")]


class Names:
    """The members of a workshop by reference, read when first asked for."""

    def __init__(self, workshop_id: int) -> None:
        self.workshop_id = workshop_id
        self._names: dict[UUID, str] | None = None

    def of(self, reference: UUID | None) -> str:
        """Name the person behind a reference; empty when there is none."""
        if reference is None:
            return ""
        if self._names is None:
            rows = Member.objects.filter(workshop_id=self.workshop_id)
            self._names = dict(rows.values_list("reference", "name"))
        return self._names.get(reference, FORMER)
