"""demo: one command makes it, says how to sign in, and serves."""

from __future__ import annotations

import io
import os
import sys

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from recycling.demo import cast
from recycling.management.commands import demo
from recycling.models import User


@pytest.fixture
def quick(monkeypatch):
    """A season that is made at once."""
    seasons = []

    def make(now, progress):
        seasons.append(now)
        return len(seasons) == 1

    monkeypatch.setattr(demo, "make_season", make)
    return seasons


def said(*options):
    out = io.StringIO()
    call_command("demo", *options, stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_it_says_where_and_how_to_sign_in(quick, monkeypatch):
    monkeypatch.delenv("PORT", raising=False)
    out = said("--no-serve")
    assert "http://127.0.0.1:8000/" in out
    assert "lead, operator or viewer" in out and cast.PASSWORD in out
    assert "here already" in said("--no-serve")


@pytest.mark.django_db
def test_the_port_comes_from_the_environment_or_the_option(quick, monkeypatch):
    monkeypatch.setenv("PORT", "8123")
    assert ":8123/" in said("--no-serve")
    assert ":8456/" in said("--no-serve", "--port", "8456")


@pytest.mark.parametrize("port", ["eighty", "0", "65536", "-1", "8000 "])
def test_a_port_that_is_none_is_refused_before_anything_is_made(quick, monkeypatch, port):
    monkeypatch.setenv("PORT", port)
    with pytest.raises(CommandError, match="is no port"):
        said("--no-serve")
    assert not quick


@pytest.mark.django_db
def test_it_becomes_a_server_on_this_computer_only(quick, monkeypatch):
    started = []
    monkeypatch.setattr(os, "execve", lambda *arguments: started.append(arguments))
    said("--port", "8456")
    ((program, arguments, environment),) = started
    assert program == sys.executable
    assert arguments[arguments.index("--bind") + 1] == "127.0.0.1:8456"
    assert environment["SERVE_UNHASHED_STATIC"] == "1"


@pytest.mark.django_db
@pytest.mark.slow
def test_the_real_season_can_be_signed_in_to():
    said("--no-serve")
    for name in ("lead", "operator", "viewer"):
        assert User.objects.get(username=name).check_password(cast.PASSWORD)
