"""What some spools take, and what can be made of what is there."""

from __future__ import annotations

from typing import Any

from django.urls import path

from api.protocol.asking import POLYMER, number
from api.protocol.requests import Door, shows
from recycling.queries.planning.plans import LEAST_SPOOL_MG, MOST_SPOOL_MG, MOST_SPOOLS, plan
from recycling.records.actors import Actor
from recycling.records.planning import Plan

SPOOLS = number("spools", "How many spools; without it one.", 1, MOST_SPOOLS)
SPOOL_MG = number(
    "spool_mg", "What is on each, mg; without it 1 kg.", LEAST_SPOOL_MG, MOST_SPOOL_MG
)


class PlanApi(Door):
    needs = {"GET": "read"}

    @shows(Plan, SPOOLS, SPOOL_MG, POLYMER)
    def get(self, actor: Actor, **asked: Any) -> Plan:
        """Say what to collect for some spools by this workshop's own yields, and what is there."""
        return plan(actor, **asked)


urlpatterns = [
    path("plan/", PlanApi.as_view()),
]
