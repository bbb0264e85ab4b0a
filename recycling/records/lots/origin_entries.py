"""What comes in: a collection, a purchase or an opening count, and its bags.

Each field is declared here once; pages, API, lists and files of entries read it from here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from recycling.records.lots.mass_entries import WeighingEntry
from shared.declared import Declared, declare

COLLECTION, PURCHASE, OPENING = "collection", "purchase", "opening"
ORIGINS = (COLLECTION, PURCHASE, OPENING)


@dataclass(frozen=True)
class BagEntry:
    """One bag or box that came in; becomes a lot."""

    mass_mg: int = field(
        metadata=declare(
            Declared(
                means="Net mass in mg; 0 for so many counted pieces by a sample of them.",
                unit="mg",
                needed=True,
                control="gross",
                columns=("mass", "mass_mg"),
            )
        )
    )
    form: str = field(
        default="bottles",
        metadata=declare(
            Declared(
                means="What is in it; the polymer by its code.",
                label="What it is",
                file_needs=True,
                columns=("form",),
            )
        ),
    )
    polymer: str = field(
        default="PET",
        metadata=declare(
            Declared(
                means="What is in it; the polymer by its code.",
                label="Polymer",
                needed=True,
                columns=("polymer",),
            )
        ),
    )
    colour: str = field(
        default="",
        metadata=declare(
            Declared(
                means="What is in it; the polymer by its code.",
                label="Colour",
                longest=40,
                columns=("colour",),
            )
        ),
    )
    count: int | None = field(
        default=None,
        metadata=declare(
            Declared(
                means="Number of pieces, where they were counted.",
                label="Number of pieces",
                unit="pieces",
                columns=("count",),
            )
        ),
    )
    weighing: WeighingEntry = field(
        default=WeighingEntry(),
        metadata=declare(
            Declared(
                means="How the mass became known.",
                control="how",
                not_in_lists="A list says the net mass alone.",
                not_in_files="A file says the net mass alone.",
            )
        ),
    )
    machine: str = field(
        default="",
        metadata=declare(
            Declared(
                means="For a heel in an opening count: the machine whose heel it is.",
                label="Machine, for a heel",
                kinds=(OPENING,),
                not_in_lists="A heel is told on the page of opening counts.",
            )
        ),
    )
    note: str = field(
        default="",
        metadata=declare(
            Declared(
                means="What else should be known of it.",
                label="Note on this one",
                longest=500,
                columns=("bag",),
            )
        ),
    )


@dataclass(frozen=True, kw_only=True)
class OriginTexts:
    """What is said of all that came in together: the entry has it, and the record shows it."""

    supplier: str = field(
        default="",
        metadata=declare(
            Declared(
                means="Who sold it, and the number of the delivery note or invoice.",
                label="Supplier",
                longest=120,
                kinds=(PURCHASE,),
                columns=("supplier",),
            )
        ),
    )
    document: str = field(
        default="",
        metadata=declare(
            Declared(
                means="Who sold it, and the number of the delivery note or invoice.",
                label="Document",
                help="Invoice, delivery note.",
                longest=120,
                kinds=(PURCHASE,),
                columns=("document",),
            )
        ),
    )
    consent: str = field(
        default="",
        metadata=declare(
            Declared(
                means="What the giver agreed to, as far as it differs from the source's own"
                " consent.",
                label="Consent",
                help="Only where it differs from what the source agreed to.",
                longest=200,
                kinds=(COLLECTION,),
                columns=("consent",),
            )
        ),
    )
    note: str = field(
        default="",
        metadata=declare(
            Declared(
                means="What else should be known of it.",
                label="Note",
                longest=500,
                columns=("note",),
            )
        ),
    )


@dataclass(frozen=True)
class OriginEntry(OriginTexts):
    """Mass that enters the book."""

    kind: str = field(
        metadata=declare(
            Declared(
                means="Which of the three it is.", by_address=True, file="entry", columns=("kind",)
            )
        )
    )
    happened_at: datetime = field(
        metadata=declare(
            Declared(
                means="When it came in, with offset.",
                label="When it came",
                help="Leave empty for now.",
                needed=True,
                file="at",
                columns=("at",),
                by_kind={
                    COLLECTION: {"api": "collected_at"},
                    PURCHASE: {"api": "purchased_at"},
                    OPENING: {
                        "api": "counted_at",
                        "means": "When it was counted, with offset.",
                        "label": "When it was counted",
                    },
                },
            )
        )
    )
    bags: tuple[BagEntry, ...] = field(
        metadata=declare(
            Declared(
                means="What came in, at least one; each becomes a lot.",
                needed=True,
                control="bags-rows",
                not_in_lists="Each row of a list is a bag.",
                by_kind={OPENING: {"means": "What was found, at least one; each becomes a lot."}},
            )
        )
    )
    source: str = field(
        default="",
        metadata=declare(
            Declared(
                means="Name or id of the one who gave.",
                label="Source",
                kinds=(COLLECTION,),
                needed=True,
                columns=("source",),
            )
        ),
    )
    programme: str = field(
        default="",
        metadata=declare(
            Declared(
                means="Name or id of the programme it counts towards.",
                label="Programme",
                kinds=(COLLECTION,),
                columns=("programme",),
            )
        ),
    )
