"""The demo can be made on any day of the week."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.demo import cast
from recycling.demo.season import make_season
from recycling.queries.integrity.audit import audit
from recycling.queries.people.workshops import lead_of


@pytest.mark.slow
@pytest.mark.django_db
@pytest.mark.parametrize("days", [1, 3, 4])
def test_it_can_be_made_on_any_weekday(days):
    assert make_season(timezone.now() - timedelta(days=days))
    assert audit(lead_of(cast.WORKSHOP.slug).workshop_id) == []
