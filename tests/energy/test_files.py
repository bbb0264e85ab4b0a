"""Files of energy: nothing counts before it was seen, the same file again is nothing new."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import OperationalError

from recycling import jobs
from recycling.calc.energy.intervals import epoch_us
from recycling.models import EnergyChunk, EnergyFile, Job
from recycling.queries.energy.machines import energy_file, machine_page
from recycling.queries.energy.runs import run_energy
from recycling.records.energy.entries import FileEntry
from recycling.services.energy import files as working
from recycling.services.energy.files import (
    file_bring,
    file_choose,
    file_drop,
    file_look,
    file_take,
    file_write,
)
from shared.errors import Conflict, Forbidden, Refused
from tests.energy.conftest import at
from tests.factories import MachineFactory, with_scope


@pytest.fixture(autouse=True)
def files_of_their_own(settings, tmp_path):
    settings.DATA_DIR = tmp_path


def power_csv(minutes=range(241), watts=600.0, head="time;power_w\n") -> bytes:
    rows = "".join(
        f"{(at(0) + timedelta(minutes=minute)).isoformat()};{str(watts).replace('.', ',')}\n"
        for minute in minutes
    )
    return (head + rows).encode()


def bring(shop, body: bytes, machine="Oven", **said: object) -> int:
    entry = FileEntry(shop.machine(machine), "log.csv", zone="Europe/Berlin", **said)
    file = file_bring(shop.actor, entry, [body[:100], body[100:]])
    finish()
    return file


def take(shop, file: int) -> None:
    file_take(shop.actor, file)
    finish()


def finish() -> None:
    """Do the jobs that a worker would do once the data is committed."""
    for job in Job.objects.filter(finished_at=None).order_by("pk"):
        {"recycling.energy_look": file_look, "recycling.energy_take": file_write}[job.task](job.pk)


def test_a_file_is_seen_first_and_counts_once_taken(shop):
    run, _ = shop.dry(shop.bag(), 1, 3)
    file = bring(shop, power_csv())
    seen = energy_file(shop.actor, file)
    assert seen.state == "looked"
    assert seen.preview["rows"] == 241
    assert seen.preview["kwh"] == pytest.approx(2.4)
    assert (run_energy(shop.actor, run).method, EnergyChunk.objects.count()) == ("", 0)
    take(shop, file)
    energy = run_energy(shop.actor, run)
    assert (energy.method, energy.kwh) == ("power log", pytest.approx(1.2))
    assert energy.coverage == pytest.approx(1.0)
    assert energy_file(shop.actor, file).state == "taken"


def test_the_same_file_again_is_nothing_new(shop):
    run, _ = shop.dry(shop.bag(), 1, 3)
    file = bring(shop, power_csv())
    take(shop, file)
    before = run_energy(shop.actor, run)
    assert bring(shop, power_csv()) == file
    take(shop, file)
    assert EnergyFile.objects.count() == 1
    assert run_energy(shop.actor, run) == before


def test_a_job_that_runs_twice_does_no_harm(shop):
    file = bring(shop, power_csv())
    file_take(shop.actor, file)
    job = Job.objects.get(finished_at=None)
    file_write(job.pk)
    chunks = EnergyChunk.objects.count()
    file_write(job.pk)
    assert EnergyChunk.objects.count() == chunks == 1
    assert not jobs.due()


@pytest.mark.parametrize("work", ["look", "take"])
def test_what_breaks_is_told_to_whoever_waits(shop, monkeypatch, work):
    def broken(*_):
        raise RuntimeError("disk on fire")

    file = bring(shop, power_csv()) if work == "take" else 0
    monkeypatch.setattr(working, "read_file", broken)
    if work == "take":
        take(shop, file)
    else:
        file = bring(shop, power_csv())
    found = energy_file(shop.actor, file)
    assert found.state == "failed" and found.failure == working.BROKE
    assert not Job.objects.filter(finished_at=None).exists() and not EnergyChunk.objects.exists()


def test_a_database_that_is_away_leaves_the_job_to_be_sent_again(shop, monkeypatch):
    def away(*_):
        raise OperationalError("gone")

    with monkeypatch.context() as patch, pytest.raises(OperationalError):
        patch.setattr(working, "read_file", away)
        bring(shop, power_csv())
    assert EnergyFile.objects.get().state == EnergyFile.LOOKING
    finish()
    assert EnergyFile.objects.get().state == EnergyFile.LOOKED


def test_bad_rows_are_named_by_line_and_nothing_can_be_taken(shop):
    body = power_csv(range(5)) + b"2024-01-08T09:00:00+00:00;lots\n"
    file = bring(shop, body)
    seen = energy_file(shop.actor, file)
    (problem,) = seen.preview["problems"]
    assert problem["line"] == 7
    assert problem["column"] == "power_w"
    assert "'lots' is not a number" in problem["says"]
    with pytest.raises(Refused, match="stands against"):
        file_take(shop.actor, file)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (b"PK\x03\x04 not a log", "not a text file"),
        (b"a;b\n1;2\n", "time"),
        (("t;" + ";".join(f"c{i}" for i in range(1000)) + "\n").encode() * 3, "columns"),
        (b"\n\n\n", "empty"),
    ],
)
def test_a_file_of_another_kind_says_what_it_is(shop, body, says):
    seen = energy_file(shop.actor, bring(shop, body))
    assert seen.state == "failed"
    assert says in seen.failure


def test_an_empty_file_is_refused(shop):
    with pytest.raises(Refused, match="empty"):
        bring(shop, b"")
    assert EnergyFile.objects.count() == 0


def test_what_the_file_cannot_tell_is_asked_and_said_again(shop):
    body = power_csv(head="time;reading\n")
    file = bring(shop, body)
    seen = energy_file(shop.actor, file)
    assert seen.state == "failed"
    assert "does reading hold power" in seen.failure
    entry = FileEntry(shop.machine("Oven"), zone="Europe/Berlin", kind="power", unit="W")
    file_choose(shop.actor, file, entry)
    finish()
    assert energy_file(shop.actor, file).state == "looked"
    with pytest.raises(Refused, match="Europe/Lisbon"):
        file_choose(shop.actor, file, replace(entry, zone="Nowhere"))


def test_two_files_over_the_same_time_would_count_twice(shop):
    take(shop, bring(shop, power_csv()))
    second = bring(shop, power_csv(range(200, 300)))
    with pytest.raises(Refused, match="count twice"):
        file_take(shop.actor, second)
    later = bring(shop, power_csv(range(240, 300)))
    take(shop, later)
    run, _ = shop.dry(shop.bag(), 3, 5)
    assert run_energy(shop.actor, run).kwh == pytest.approx(0.6 * (2 - 1 / 60), rel=1e-6)


def test_two_takers_of_overlapping_files_do_not_both_win(shop):
    first, second = bring(shop, power_csv()), bring(shop, power_csv(range(200, 300)))
    file_take(shop.actor, first)
    file_take(shop.actor, second)  # both asked for before either was written
    finish()
    states = [energy_file(shop.actor, one).state for one in (first, second)]
    assert states == ["taken", "failed"]


def test_a_counter_file_with_a_fall_waits_for_a_word(shop):
    rows = "".join(f"{at(hour).isoformat()},{kwh}\n" for hour, kwh in enumerate([10, 12, 1, 2]))
    file = bring(shop, f"time,energy_kwh\n{rows}".encode(), kind="counter")
    assert not energy_file(shop.actor, file).preview["can_be_written"]
    entry = FileEntry(
        shop.machine("Oven"), zone="Europe/Berlin", kind="counter", falls_are_resets=True
    )
    file_choose(shop.actor, file, entry)
    finish()
    take(shop, file)
    run, _ = shop.dry(shop.bag(), 0, 3)
    energy = run_energy(shop.actor, run)
    assert (energy.method, energy.kwh) == ("meter reading", pytest.approx(4.0))


def test_a_dropped_file_leaves_nothing_and_a_taken_one_stays(shop):
    file = bring(shop, power_csv())
    assert file_drop(shop.actor, file) == shop.machine("Oven")
    assert EnergyFile.objects.count() == 0
    file = bring(shop, power_csv())
    take(shop, file)
    with pytest.raises(Conflict, match="taken already"):
        file_drop(shop.actor, file)


def test_the_same_file_may_be_of_another_machine(shop):
    MachineFactory(actor=shop.actor, name="Other oven", kind="dryer")
    assert bring(shop, power_csv()) != bring(shop, power_csv(), machine="Other oven")


def test_a_reader_cannot_bring_a_file(shop):
    viewer = with_scope(shop.actor, "read")
    with pytest.raises(Forbidden):
        file_bring(viewer, FileEntry(shop.machine("Oven"), zone="UTC"), [b"x"])


def test_many_points_are_read_back_as_they_were(shop):
    # 12 days of one sample a minute: more points than one chunk holds
    take(shop, bring(shop, power_csv(range(12 * 1440), 300.0)))
    assert EnergyChunk.objects.count() > 1
    run, _ = shop.dry(shop.bag(), 24 * 5, 24 * 5 + 48)
    energy = run_energy(shop.actor, run)
    assert energy.kwh == pytest.approx(14.4)
    assert energy.coverage == pytest.approx(1.0)
    page = machine_page(shop.actor, shop.machine("Oven"))
    assert epoch_us(page.files[0].first_at) == epoch_us(at(0))
