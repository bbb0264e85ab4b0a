"""Alive, and able to serve."""

from __future__ import annotations

import pytest
from django.db import OperationalError

from api import health


@pytest.fixture(autouse=True)
def looked_at_afresh():
    health.forget()
    yield
    health.forget()


def test_alive(client):
    response = client.get("/healthz")
    assert (response.status_code, response.json()) == (200, {"status": "alive"})
    assert client.post("/healthz").status_code == 405


def test_ready(client, db):
    response = client.get("/readyz")
    assert response.status_code == 200
    assert response.json() == {
        "ready": True,
        "database": "ready",
        "migrations": "ready",
        "broker": "in process",
        "writing": "ready",
    }


def test_not_ready_while_a_migration_is_missing(client, db):
    from django.db.migrations.recorder import MigrationRecorder

    MigrationRecorder.Migration.objects.filter(app="recycling").latest("id").delete()
    response = client.get("/readyz")
    assert (response.status_code, response.json()["migrations"]) == (503, "missing")


def test_not_ready_without_the_database(client, db, monkeypatch):
    def away(*_args, **_named):
        raise OperationalError("gone")

    monkeypatch.setattr(health.MigrationExecutor, "__init__", away)
    response = client.get("/readyz")
    assert (response.status_code, response.json()["database"]) == (503, "away")


def test_a_broker_that_is_away_stops_no_one(client, db, settings):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    response = client.get("/readyz")
    assert (response.status_code, response.json()["broker"]) == (200, "away; jobs wait")
