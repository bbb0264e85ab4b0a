"""Earlier runs that worked like material."""

from __future__ import annotations

from django.urls import path

from api.protocol.requests import Door, lists
from recycling.queries.tuning.similar_runs import closest_runs
from recycling.records.actors import Actor
from recycling.records.tuning import ClosestRun


class LotClosestApi(Door):
    needs = {"GET": "read"}

    @lists(ClosestRun)
    def get(self, actor: Actor, code: str) -> list[ClosestRun]:
        """List the earlier extrusions whose material is most like a lot's, as a starting point."""
        return closest_runs(actor, code)


urlpatterns = [
    path("lots/<str:code>/closest/", LotClosestApi.as_view()),
]
