"""The demo's season, made once for each module of tests and rolled back after it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.utils import timezone

from recycling.demo import cast
from recycling.demo.season import make_season
from recycling.models import User
from recycling.queries.people.workshops import lead_of


@pytest.fixture(scope="module")
def lead(module_book):
    assert make_season(timezone.now())
    return lead_of(cast.WORKSHOP.slug)


@pytest.fixture
def signed_in(lead):
    client = Client()
    client.force_login(User.objects.get(username="lead"))
    return client
