"""A book in which one collection spoils what is made of it: bags, flake, dryer batches, spools."""

from __future__ import annotations

from recycling.records.quality.entries import VerdictEntry
from recycling.services.quality.verdict_give import verdict_give
from tests.factories import MemberFactory
from tests.histories import Told, tell

BRITTLE = ("brittle",)


def spoilt_book(spools: int = 8) -> Told:
    """Tell of four collections; C2 is in every odd spool, C1 in every even one, C4 in none.

    Spool number n is ``S{n}``; all go through one shredder, dryer and extruder.
    """
    told = tell(
        "C1: bottles PET 20kg\nC2: bottles PET 20kg\nC3: bottles PET 20kg\nC4: bottles PET 5kg\n"
        "RA sort C1.1 all -> clean bottles 19kg\nRB sort C2.1 all -> clean bottles 19kg\n"
        "RC sort C3.1 all -> clean bottles 19kg\n"
        "FA shred RA.1 all -> flake 18kg\nFB shred RB.1 all -> flake 18kg\n"
        "FC shred RC.1 all -> flake 18kg"
    )
    for place in range(spools):
        own = "FB" if place % 2 else "FA"
        told.tell(
            f"D{place} dry {own}.1 600g, FC.1 400g -> dried flake 990g, ~water 10g\n"
            f"E{place} extrude D{place}.1 all -> filament 900g spool, offcuts 80g"
        )
        told.codes[f"S{place}"] = told.codes[f"E{place}.1"]
    return told


def judge(told: Told, name: str, good: bool, by: str = "", defects: tuple[str, ...] = ()) -> None:
    """Let a member say of a spool that it is good or bad."""
    actor = told.actor
    if by:
        actor = told.results.get(by) or MemberFactory(actor=told.actor, name=by, role="viewer")
        told.results[by] = actor
    named = () if good else defects or BRITTLE
    verdict_give(actor, VerdictEntry(told.code(name), good, named))
