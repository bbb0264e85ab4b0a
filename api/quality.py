"""What is measured of lots: particles, filament, every check at the stages, and like runs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.urls import path

from api.protocol.answers import LotNoted
from api.protocol.bodies import VerdictBody
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.lots.lots import lot_page
from recycling.queries.quality.checks import lot_checks
from recycling.queries.quality.declared import checks_in_force
from recycling.records.actors import Actor
from recycling.records.quality.checks import LotChecks
from recycling.records.quality.declared import DeclaredRow, DeclareEntry
from recycling.records.quality.entries import FilamentEntry, ParticlesEntry, VerdictEntry
from recycling.services.quality.declare import check_declare, second_choice_release
from recycling.services.quality.measurements import filament_measure, particles_measure
from recycling.services.quality.verdict_give import verdict_give


@dataclass(frozen=True)
class ParticlesBody:
    """Largest dimensions of particles of a lot.

    Attributes
    ----------
    sizes_mm : tuple of float
        One for each particle, mm.
    measured_at : datetime or None
        When, with offset; now where it is left out.
    """

    sizes_mm: tuple[float, ...]
    measured_at: datetime | None = None


@dataclass(frozen=True)
class FilamentBody:
    """Diameters of a spool's filament.

    Attributes
    ----------
    first_mm, second_mm : tuple of float
        Along one axis, and at the same places along the other, where that was measured, mm.
    length_m : float or None
        Length on the spool, where it was measured.
    measured_at : datetime or None
        When, with offset; now where it is left out.
    """

    first_mm: tuple[float, ...]
    second_mm: tuple[float, ...] = ()
    length_m: float | None = None
    measured_at: datetime | None = None


class LotChecksApi(Door):
    needs = {"GET": "read"}

    @shows(LotChecks, rows_of=lambda found: found.particles)
    def get(self, actor: Actor, code: str) -> LotChecks:
        """Show all that was checked of a lot at the stages; as CSV, its samples of particles."""
        return lot_checks(actor, code)


class LotParticlesApi(Door):
    needs = {"POST": "record"}

    @records(ParticlesBody, LotChecks, renamed={"/lot": ""})
    def post(self, actor: Actor, body: ParticlesBody, code: str) -> LotChecks:
        """Keep sizes of particles of a lot; the answer says whether to feed it or run it again."""
        entry = ParticlesEntry(code, body.sizes_mm, body.measured_at)
        return lot_checks(actor, particles_measure(actor, entry))


class LotFilamentApi(Door):
    needs = {"POST": "record"}

    @records(FilamentBody, LotChecks, renamed={"/lot": ""})
    def post(self, actor: Actor, body: FilamentBody, code: str) -> LotChecks:
        """Keep diameters of a spool's filament; the answer holds them against its tolerance."""
        entry = FilamentEntry(code, **vars(body))
        return lot_checks(actor, filament_measure(actor, entry))


class LotVerdictsApi(Door):
    needs = {"POST": "verdict"}

    @records(VerdictBody, LotNoted, renamed={"/lot": ""}, guard=lot_page)
    def post(self, actor: Actor, body: VerdictBody, code: str) -> LotNoted:
        """Say of a spool that it printed well, or what was wrong with it."""
        return LotNoted(verdict_give(actor, VerdictEntry(code, body.good, body.defects, body.note)))


@dataclass(frozen=True)
class SecondChoiceBody:
    """Why a product that failed is released as second choice.

    Attributes
    ----------
    reason : str
        In a few words.
    """

    reason: str


class DeclaredChecksApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(DeclaredRow)
    def get(self, actor: Actor) -> list[DeclaredRow]:
        """List the checks that products must meet now, with limits, rules and sources."""
        return checks_in_force(actor)

    @records(DeclareEntry, DeclaredRow)
    def post(self, actor: Actor, entry: DeclareEntry) -> DeclaredRow:
        """Declare a check, change one or switch it off; each is a new edition."""
        edition = check_declare(actor, entry)
        return next(one for one in checks_in_force(actor) if one.edition == edition)


class LotSecondChoiceApi(Door):
    needs = {"POST": "record"}

    @records(SecondChoiceBody, LotChecks, renamed={"/lot": ""})
    def post(self, actor: Actor, body: SecondChoiceBody, code: str) -> LotChecks:
        """Release a product that failed as second choice; it stays failed."""
        return lot_checks(actor, second_choice_release(actor, code, body.reason))


urlpatterns = [
    path("declared-checks/", DeclaredChecksApi.as_view()),
    path("lots/<str:code>/second-choice/", LotSecondChoiceApi.as_view()),
    path("lots/<str:code>/checks/", LotChecksApi.as_view()),
    path("lots/<str:code>/particles/", LotParticlesApi.as_view()),
    path("lots/<str:code>/filament/", LotFilamentApi.as_view()),
    path("lots/<str:code>/verdicts/", LotVerdictsApi.as_view()),
]
