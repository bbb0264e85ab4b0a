"""Changeovers: the plan to the next polymer, what it took, and the purge before a shutdown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.urls import path

from api.protocol.requests import Door, records, shows
from recycling.queries.process.changeover_plans import changeover_planned
from recycling.queries.process.changeovers import changeover_desk, changeover_of
from recycling.queries.process.purges import shutdown_advice
from recycling.records.actors import Actor
from recycling.records.process.changeovers import (
    ChangeoverDesk,
    ChangeoverEntry,
    ChangeoverPlanned,
    ChangeoverRow,
    ShutdownAdvice,
    UsedEntry,
)
from recycling.services.process import changeover_plan, changeover_used


@dataclass(frozen=True)
class ChangeoverBody:
    """What a plan is asked for.

    Attributes
    ----------
    after : str
        The polymer that comes next.
    start_c, target_c : float or None
        Set temperature now and for the next polymer; left out, the middle of the windows.
    residue_percent : float or None
        Residue that may be left; left out, that of the workshop's limits.
    at : datetime or None
        The moment of the change, with offset: the plan goes from what was in the machine then;
        left out, from what is in it now.
    """

    after: str
    start_c: float | None = None
    target_c: float | None = None
    residue_percent: float | None = None
    at: datetime | None = None


@dataclass(frozen=True)
class UsedBody:
    """What a changeover took.

    Attributes
    ----------
    purge_used_mg, flush_used_mg : int or None
        Mass of purge compound and of the next polymer until the output was clean, in mg.
    residue_percent : float or None
        Residue that was left, where it was measured; left out, the one that was planned.
    seen : str
        What the operator saw.
    """

    purge_used_mg: int | None = None
    flush_used_mg: int | None = None
    residue_percent: float | None = None
    seen: str = ""


@dataclass(frozen=True)
class ShutdownShown:
    """What is to be done before a run is closed.

    Attributes
    ----------
    advice : ShutdownAdvice or None
        The purge that is proposed; null for a run that is no extrusion on a machine.
    """

    advice: ShutdownAdvice | None


class MachineChangeoversApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @shows(ChangeoverDesk, rows_of=lambda desk: desk.kept)
    def get(self, actor: Actor, machine: int) -> ChangeoverDesk:
        """Show what is in a machine, its earlier changeovers, and what they say of its hold-up."""
        return changeover_desk(actor, machine)

    @records(ChangeoverBody, ChangeoverRow)
    def post(self, actor: Actor, body: ChangeoverBody, machine: int) -> ChangeoverRow:
        """Plan the way from what is in a machine to the next polymer, and keep the plan."""
        planned = changeover_plan(actor, ChangeoverEntry(machine, **vars(body)))
        return changeover_of(actor, planned)


class MachineChangeoverTrialApi(Door):
    needs = {"POST": "read"}

    @records(ChangeoverBody, ChangeoverPlanned, status=200)
    def post(self, actor: Actor, body: ChangeoverBody, machine: int) -> ChangeoverPlanned:
        """Work the plan out without keeping it; says too when there is no way."""
        return changeover_planned(actor, ChangeoverEntry(machine, **vars(body)))


class ChangeoverApi(Door):
    needs = {"GET": "read"}

    @shows(ChangeoverRow, rows_of=lambda kept: kept.plan.steps)
    def get(self, actor: Actor, changeover: int) -> ChangeoverRow:
        """Show a plan that was kept, beside what it took; as CSV, its steps."""
        return changeover_of(actor, changeover)


class ChangeoverUsedApi(Door):
    needs = {"POST": "record"}

    @records(UsedBody, ChangeoverRow)
    def post(self, actor: Actor, body: UsedBody, changeover: int) -> ChangeoverRow:
        """Note what a changeover took; the hold-up is refitted from all that were noted."""
        changeover_used(actor, UsedEntry(changeover, **vars(body)))
        return changeover_of(actor, changeover)


class RunShutdownApi(Door):
    needs = {"GET": "read"}

    @shows(ShutdownShown)
    def get(self, actor: Actor, code: str) -> ShutdownShown:
        """Say which purge is proposed before an extrusion is closed, and whether it was drawn."""
        return ShutdownShown(shutdown_advice(actor, code))


urlpatterns = [
    path("machines/<int:machine>/changeovers/", MachineChangeoversApi.as_view()),
    path(
        "machines/<int:machine>/changeovers/trial/",
        MachineChangeoverTrialApi.as_view(),
    ),
    path("changeovers/<int:changeover>/", ChangeoverApi.as_view()),
    path("changeovers/<int:changeover>/used/", ChangeoverUsedApi.as_view()),
    path("runs/<str:code>/shutdown/", RunShutdownApi.as_view()),
]
