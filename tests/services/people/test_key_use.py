"""A key says when it was last used, without a write at every request."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine

from recycling.models import DeviceKey
from recycling.services.people.key_use import NOTE_USE_EVERY, key_use
from tests.factories import KeyFactory, WorkshopFactory


@pytest.mark.django_db(transaction=True)
def test_its_use_is_noted_now_and_then(django_assert_num_queries):
    lead = WorkshopFactory()
    issued = KeyFactory(actor=lead)
    key = DeviceKey.objects.get(pk=issued.key)
    assert key.last_used_at is None
    assert key_use(issued.secret).reference == lead.reference
    key.refresh_from_db()
    noted = key.last_used_at
    with django_assert_num_queries(1):
        key_use(issued.secret)
    with time_machine.travel(noted + NOTE_USE_EVERY + timedelta(seconds=1)):
        key_use(issued.secret)
    key.refresh_from_db()
    assert key.last_used_at > noted


def test_a_key_that_is_none_is_let_in_nowhere_and_notes_nothing(lead):
    issued = KeyFactory(actor=lead)
    assert key_use(issued.secret + "x") is None
    assert key_use("") is None
    assert DeviceKey.objects.get(pk=issued.key).last_used_at is None
