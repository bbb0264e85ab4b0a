"""load_entries: all or nothing, and a clear word for each thing that can be wrong."""

from __future__ import annotations

import pytest
from django.core.management.base import CommandError

from recycling.models import Lot, Machine, Run, Workshop
from recycling.queries.integrity.audit import audit
from recycling.queries.people.workshops import lead_of


def stored():
    return [Workshop.objects.count(), Run.objects.count(), Lot.objects.count()]


def test_a_good_file_opens_the_workshop_and_records_everything(load, entries, capsys):
    load(entries)
    actor = lead_of("may")
    assert "Recorded 4 entries with 4 lots in “may”." in capsys.readouterr().out
    made = list(Lot.objects.order_by("number").values_list("form", "account__balance_mg"))
    assert made == [
        ("bottles", 0),
        ("clean bottles", 790_000),
        ("caps", 310_000),
        ("flake", 2_988_500),
    ]
    machines = Machine.objects.values_list("name", "kind")
    assert list(machines) == [("two-shaft shredder", "shredder")]
    assert Run.objects.get(stage="sort").note == "At long table."
    assert audit(actor.workshop_id) == []


def test_progress_goes_to_standard_error(load, entries, capsys):
    load(entries)
    assert "4/4" in capsys.readouterr().err


def test_the_same_file_again_is_refused_and_can_be_appended(load, entries):
    load(entries)
    before = stored()
    with pytest.raises(CommandError, match="--append"):
        load(entries)
    assert stored() == before
    load(entries, "--append")
    assert stored() == [before[0], 2 * before[1], 2 * before[2]]


def test_another_workshop_can_be_named(load, entries):
    load(entries, "--workshop", "the-quay")
    assert Workshop.objects.get().slug == "the-quay"
    with pytest.raises(CommandError, match="no short name"):
        load(entries, "--workshop", "The Quay")


def spoil(entries, place, path, value):
    target = entries[place]
    *way, last = path
    for step in way:
        target = target[step]
    if value is KeyError:
        del target[last]
    else:
        target[last] = value


@pytest.mark.parametrize(
    ("place", "path", "value", "said"),
    [
        (0, ["entry"], "gift", r"/entries/0/entry: There is no kind of entry “gift”"),
        (0, ["mass_mg"], -5, r"Entry 1, collection bag 1: A mass must be more than zero"),
        (0, ["mass_mg"], 0, r"/entries/0/bags/0/mass_mg: .*more than zero"),
        (0, ["mass_mg"], 2**63, r"Entry 1, .*No mass in the book is larger"),
        (0, ["mass_mg"], 1.5, r"/entries/0/mass_mg: “mass_mg” must be a whole number, not 1.5"),
        (0, ["mass_mg"], True, r"must be a whole number, not true"),
        (0, ["mass_mg"], "1_000", r"must be a whole number"),
        (0, ["mass_mg"], KeyError, r"/entries/0/mass_mg: The field “mass_mg” is needed"),
        (0, ["source"], "", r"Entry 1, .*Say who gave it"),
        (0, ["at"], "2026-05-04T09:30:00", r"is not a time with offset"),
        (0, ["at"], "2999-05-04T09:30:00Z", r"Entry 1, .*still to come"),
        (0, ["colou"], "clear", r"/entries/0/colou: There is no field “colou” here"),
        (0, ["form"], "cans", r"Entry 1, .*There is no form “cans”"),
        (1, ["stage"], "melt", r"/entries/1/stage: There is no such stage"),
        (1, ["inputs", 0, "lot"], "bag 7", r"/entries/1/inputs/0/lot: No earlier entry makes"),
        (1, ["inputs", 0, "mass_mg"], 4_310_001, r"Entry 2, run monday sort.*“bag 1” in the file"),
        (1, ["inputs"], {}, r"/entries/1/inputs: “inputs” must be a list"),
        (1, ["outputs", 1, "lot"], "clean 1", r"/entries/1: A lot “clean 1” is made twice"),
        (1, ["outputs", 1, "form"], "pellets", r"/entries/1/outputs/1/form: .*not pellets"),
        (1, ["outputs", 0], 7, r"/entries/1/outputs/0: An object in braces"),
        (1, ["losses", 0, "account"], "dust", r"Entry 2, .*“dust” is not one of them"),
        (1, ["unaccounted_mg"], 188_999, r"Entry 2, .*188999 mg.*leaves 189000 mg"),
        (1, ["ended_at"], "2026-05-04T09:00:00Z", r"Entry 2, .*end is before the start"),
        (
            2,
            ["inputs", 0, "lot"],
            "caps 1",
            r"Entry 3, .*Of lot L\d+-. \(“caps 1” in the file\) at most",
        ),
        (3, ["counts", 0, "lot"], "flake 9", r"/entries/3/counts/0/lot: No earlier entry"),
        (3, ["unaccounted_mg"], -1_500, r"Entry 4, count may count: The file says -1500 mg"),
    ],
)
def test_one_bad_entry_is_named_and_nothing_is_recorded(load, entries, place, path, value, said):
    spoil(entries, place, path, value)
    with pytest.raises(CommandError, match=said) as refused:
        load(entries)
    assert "nothing was recorded" in str(refused.value)
    assert stored() == [0, 0, 0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Line 1, column 1: this is not JSON"),
        ('{"entries": [\n  {"entry" "run"}]}', "Line 2, column 12: this is not JSON"),
        ('{"entries": []}', "A list “entries” is needed"),
        ("[1]", "A list “entries” is needed"),
        ('{"entries": [NaN]}', "NaN is not a number of JSON"),
        ('{"entries": [{"lot": "a", "lot": "b"}]}', "The field “lot” stands twice"),
        ("[" * 100_000, "nested too deeply"),
    ],
)
def test_a_file_that_is_not_one_is_refused(load, text, said):
    with pytest.raises(CommandError, match=said):
        load(text)
    assert stored() == [0, 0, 0]


def test_many_problems_are_shown_up_to_a_limit(load, entries):
    broken = [{"entry": "gift"}] * 30
    with pytest.raises(CommandError, match=r"… and 10 more\.") as refused:
        load(broken)
    assert str(refused.value).count("no kind of entry") == 20


def test_a_file_that_cannot_be_read_says_why(load, tmp_path):
    from django.core.management import call_command

    with pytest.raises(CommandError, match="No such file"):
        call_command("load_entries", str(tmp_path / "none.json"))
    (tmp_path / "latin.json").write_bytes(b'{"a": "caf\xe9"}')
    with pytest.raises(CommandError, match="not UTF-8"):
        call_command("load_entries", str(tmp_path / "latin.json"))


def test_heel_and_feeds_keep_their_names(load, entries):
    entries += [
        {
            "entry": "run",
            "stage": "dry",
            "machine": "dryer",
            "started_at": "2026-05-07T08:00:00Z",
            "ended_at": "2026-05-07T13:00:00Z",
            "inputs": [{"lot": "flake 1", "mass_mg": 2_000_000}],
            "outputs": [{"lot": "dry 1", "form": "dried flake", "mass_mg": 1_990_000}],
            "losses": [{"account": "water", "mass_mg": 9_000}],
        },
        {
            "entry": "run",
            "stage": "extrude",
            "machine": "extruder",
            "started_at": "2026-05-07T14:00:00Z",
            "ended_at": "2026-05-07T17:00:00Z",
            "inputs": [{"lot": "dry 1", "mass_mg": 1_990_000}],
            "outputs": [
                {"lot": "heel 1", "form": "heel", "mass_mg": 60_000},
                {
                    "lot": "spool 1",
                    "form": "filament",
                    "mass_mg": 1_700_000,
                    "spool": {"diameter_mm": 2.85, "tare_mg": 210_000},
                },
                {"lot": "coil 1", "form": "filament", "mass_mg": 200_000, "spool": False},
            ],
            "feeds": [{"at": "2026-05-07T14:05:00Z", "lot": "dry 1", "mass_mg": 1_500_000}],
            "settings": [{"key": "zone_1_c", "value": "265"}],
        },
        {
            "entry": "run",
            "stage": "dispatch",
            "started_at": "2026-05-08T14:00:00Z",
            "ended_at": "2026-05-08T14:00:00Z",
            "inputs": [{"lot": "coil 1", "mass_mg": 200_000}],
            "checks": [{"key": "receiver", "value": "a school"}],
        },
    ]
    load(entries)
    heel = Lot.objects.get(form="heel")
    assert (heel.made_mg, heel.machine.name) == (60_000, "extruder")
    spools = list(Lot.objects.filter(spool__isnull=False).values_list("made_mg", flat=True))
    assert spools == [1_700_000]
    assert Lot.objects.get(made_mg=1_700_000).spool.diameter_mm == 2.85
    assert Lot.objects.get(made_mg=200_000).account.balance_mg == 0
