"""The compose file: what it starts exists, and what it sets is a setting."""

from __future__ import annotations

import re
import shlex
from importlib import import_module
from pathlib import Path

import pytest
import yaml
from django.core.management import get_commands

ROOT = Path(__file__).resolve().parent.parent
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]
OURS = [name for name, service in SERVICES.items() if "build" in service]


def test_it_starts_what_a_shared_server_needs():
    assert set(SERVICES) == {"proxy", "web", "worker", "db", "redis", "setup"}
    assert set(OURS) == {"web", "worker", "setup"}


@pytest.mark.parametrize("name", OURS)
def test_its_settings_are_settings(name):
    page = (ROOT / "docs/reference/settings.md").read_text()
    unknown = [key for key in SERVICES[name]["environment"] if f"`{key}`" not in page]
    assert not unknown


def test_its_commands_start_what_there_is():
    words = shlex.split(SERVICES["web"]["command"])
    assert words[0] == "gunicorn"
    assert import_module(words[1]).application
    words = shlex.split(SERVICES["worker"]["command"])
    assert words[:3] == ["celery", "-A", "recycling"]
    assert import_module("recycling.celery").app.main == "recycling"
    commands = re.findall(r"manage\.py (\w+)", SERVICES["setup"]["command"])
    assert commands == ["migrate", "collectstatic"]
    assert set(commands) <= set(get_commands())


def test_the_image_holds_every_room():
    recipe = SERVICES["web"]["build"]["dockerfile_inline"]
    for path in re.findall(r"^COPY (.+) \S+$", recipe, re.M):
        assert all((ROOT / part).exists() for part in path.split())
    for room in ("recycling", "api", "shared", "templates", "manage.py"):
        assert re.search(rf"^COPY .*\b{re.escape(room)}", recipe, re.M)


def test_nothing_listens_beyond_this_computer_unless_asked():
    assert SERVICES["proxy"]["ports"] == ["${BIND:-127.0.0.1}:${PORT:-8080}:80"]
    assert not [name for name in SERVICES if name != "proxy" and "ports" in SERVICES[name]]


def test_each_waits_for_what_it_needs():
    for name, service in SERVICES.items():
        for needed, how in service.get("depends_on", {}).items():
            condition = how["condition"]
            assert needed in SERVICES
            healthy = condition == "service_healthy" and "healthcheck" in SERVICES[needed]
            done = condition == "service_completed_successfully"
            assert healthy or done, f"{name} does not wait until {needed} can serve"
