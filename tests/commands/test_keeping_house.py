"""audit, device_key, sweep_jobs, add_workshop."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from recycling.ledger.models import Account
from recycling.models import Composition, Job, Member, Workshop
from recycling.queries.people.members import actor_for_key
from recycling.queries.people.workshops import lead_of


def said(*command, **options):
    out = io.StringIO()
    call_command(*command, stdout=out, stderr=io.StringIO(), **options)
    return out.getvalue()


def test_audit_is_silent_on_a_sound_book(load, entries):
    load(entries)
    assert said("audit") == "may: no findings\n"
    assert said("audit", workshop="may") == "may: no findings\n"


def test_audit_names_what_differs_and_exits_with_one(load, entries):
    load(entries)
    lot = Account.objects.filter(kind="lot", balance_mg__gt=0).first()
    Account.objects.filter(pk=lot.pk).update(balance_mg=lot.balance_mg + 1)
    out = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("audit", stdout=out)
    assert ended.value.code == 1
    assert lot.lot.code in out.getvalue()


def test_audit_finds_a_milligram_moved_between_origins(load, entries):
    load(entries)
    part = Composition.objects.order_by("-pk").first()
    Composition.objects.filter(pk=part.pk).update(mass_mg=part.mass_mg - 1)
    with pytest.raises(SystemExit):
        said("audit")


def test_audit_of_an_unknown_workshop_says_which_there_are(load, entries):
    load(entries)
    with pytest.raises(CommandError, match="there are: may"):
        said("audit", workshop="june")


def test_a_key_is_printed_once_and_works_within_its_scope(load, entries):
    load(entries)
    secret = said("device_key", "may", "Lead", "--scope", "record").strip()
    actor = actor_for_key(secret)
    assert actor.slug == "may"
    assert actor.may("record") and not actor.may("manage")
    assert said("device_key", "may", "may-lead").strip() != secret


@pytest.mark.parametrize("options", [["may", "Nobody"], ["june", "Lead"]])
def test_a_key_for_somebody_unknown_is_refused(load, entries, options):
    load(entries)
    with pytest.raises(CommandError, match="There is no member"):
        said("device_key", *options)


def test_a_key_may_do_no_more_than_its_member(load, entries):
    load(entries)
    Member.objects.update(role="viewer")
    with pytest.raises(CommandError, match="that you have"):
        said("device_key", "may", "Lead", "--scope", "manage")


def test_a_waiting_job_is_sent_again(load, entries, django_capture_on_commit_callbacks):
    from recycling import jobs

    load(entries)
    workshop = Workshop.objects.get()
    jobs.start(workshop.pk, "recycling.recompute_compositions", run_ids=[])
    assert Job.objects.get().finished_at is None
    assert said("sweep_jobs").startswith("1 jobs sent again\n")
    assert Job.objects.get().finished_at is not None
    assert said("sweep_jobs").startswith("0 jobs sent again\n")


@pytest.mark.django_db
def test_a_workshop_is_opened_with_its_lead(monkeypatch):
    monkeypatch.setenv("LEAD_PASSWORD", "plenty of old bottles")
    out = said("add_workshop", "quay", "The Quay", "Ada", "ada", zone="Europe/Lisbon")
    assert "/w/quay/" in out
    assert lead_of("quay").name == "Ada"
    with pytest.raises(CommandError, match="is taken"):
        said("add_workshop", "quay", "The Quay", "Ada", "ada")


@pytest.mark.django_db
def test_a_weak_password_opens_nothing(monkeypatch):
    monkeypatch.setenv("LEAD_PASSWORD", "short")
    with pytest.raises(CommandError, match="too short"):
        said("add_workshop", "quay", "The Quay", "Ada", "ada")
    assert not Workshop.objects.exists()
