"""The demo's season, made once for each module of tests and rolled back after it."""

from __future__ import annotations

import pytest
from django.db import transaction
from django.test import Client
from django.utils import timezone

from recycling.demo import cast
from recycling.demo.season import make_season
from recycling.models import User
from recycling.queries.people.workshops import lead_of


@pytest.fixture(scope="module")
def lead(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        assert make_season(timezone.now())
        yield lead_of(cast.WORKSHOP.slug)
        transaction.set_rollback(True)


@pytest.fixture
def signed_in(lead):
    client = Client()
    client.force_login(User.objects.get(username="lead"))
    return client
