"""Which slip explains a run: one of each kind, planted by hand in a small workshop's history."""

import math

import pytest

from recycling.calc.balance.judging import Closed, Memory, may_miss
from recycling.calc.balance.slip_changes import (
    FACTOR_TEN,
    LEFT_OUT,
    SWAPPED,
    TARE_FORGOTTEN,
    TARE_TWICE,
    TWICE,
    UNIT,
    Typed,
    swapped,
)
from recycling.calc.balance.slips import Run, explain

TARES = {"crate": 1_250_000.0, "bucket": 430_000.0}
G = 1_000.0


def sort(key, went_in, parts, **first):
    """One sorting: grams in, grams of each kind out."""
    figures = [Typed("in", "in", ("sort", "in", "bottles"), went_in * G, step_mg=G, **first)]
    figures += [
        Typed(form, "out", ("sort", "out", form), mass * G, step_mg=G)
        for form, mass in parts.items()
    ]
    return Closed(key, "sort", "table", "PET", tuple(figures), 2 * G)


@pytest.fixture(scope="module")
def memory():
    told = Memory()
    for n in range(24):
        x = 2_003 + 611 * (n % 7)
        caps, rings, labels = round(0.071 * x), round(0.012 * x), round(0.033 * x) + n % 5
        clean = x - caps - rings - labels - round((0.02 + 0.004 * (n % 3)) * x)
        told.see(sort(n, x, {"clean": clean, "caps": caps, "rings": rings, "labels": labels}))
    return told


def put(run, form, **changes):
    """Change a figure of a run after it was honestly weighed."""
    figures = {one.key: one for one in run.figures}
    one = figures[form]
    kept = {name: getattr(one, name) for name in ("gross_mg", "tare_mg", "containers")}
    figures[form] = Typed(
        one.key, one.side, one.kind, **(kept | changes), step_mg=one.step_mg, whole=one.whole
    )
    return Closed(run.key, run.stage, run.machine, run.polymer, tuple(figures.values()), run.u_mg)


HONEST = sort("now", 3_814, {"clean": 3_284, "caps": 271, "rings": 46, "labels": 128})


def test_an_honest_run_is_usual(memory):
    assert memory.judge(HONEST, TARES).state == "usual"


def test_slips_of_every_kind_are_named(memory):
    bucket = {"gross_mg": 3_714 * G}
    planted = {
        (TARE_FORGOTTEN, "clean"): put(HONEST, "clean", **bucket),
        (FACTOR_TEN, "caps"): put(HONEST, "caps", gross_mg=2_710 * G),
        (SWAPPED, "clean"): put(HONEST, "clean", gross_mg=3_824 * G),
        (UNIT, "clean"): put(HONEST, "clean", gross_mg=round(3_284 / 0.45359237) * G),
    }
    for (kind, form), run in planted.items():
        first = memory.judge(run, TARES).explained.slips[0]
        assert (first.kind, first.keys) == (kind, (form,)), kind


def test_a_tare_taken_twice(memory):
    run = put(HONEST, "clean", gross_mg=3_284 * G, tare_mg=430 * G, containers=("bucket",))
    first = memory.judge(run, TARES).explained.slips[0]
    # a tare forgotten on what went in would come to the same: one line says both
    assert set(first.kinds) == {TARE_TWICE, TARE_FORGOTTEN}
    assert set(first.keys) == {"clean", "in"}


def test_entered_twice_names_all_equal_figures(memory):
    twin = Typed("again", "out", ("sort", "out", "clean"), 3_284 * G, step_mg=G)
    run = Closed("now", "sort", "table", "PET", (*HONEST.figures, twin), 2 * G)
    first = memory.judge(run, TARES).explained.slips[0]
    assert first.kind == TWICE
    assert set(first.keys) == {"clean", "again"}


def test_what_such_runs_give_and_this_one_does_not_was_left_out(memory):
    rest = tuple(one for one in HONEST.figures if one.key != "caps")
    run = Closed("now", "sort", "table", "PET", rest, 2 * G)
    assert ("sort", "out", "caps") in may_miss(run, [HONEST])
    lines = memory.judge(run, TARES).explained.slips
    assert lines[0].kind == LEFT_OUT
    assert lines[0].left_out == ("sort", "out", "caps")
    assert lines[0].right_mg == pytest.approx(271 * G, rel=0.25)


def test_a_round_loss_that_no_slip_explains_is_material_lost(memory):
    run = put(HONEST, "clean", gross_mg=2_687 * G)
    explained = memory.judge(run, TARES).explained
    assert explained.named is None
    assert explained.lines[0].kind == "material lost"


def test_a_figure_that_somebody_confirmed_is_not_suspected(memory):
    wrong = put(HONEST, "caps", gross_mg=2_710 * G)
    figures = tuple(
        Typed(one.key, one.side, one.kind, one.gross_mg, step_mg=G, right=one.key == "caps")
        for one in wrong.figures
    )
    run = Closed("now", "sort", "table", "PET", figures, 2 * G)
    lines = memory.judge(run, TARES).explained.slips
    assert all("caps" not in line.keys for line in lines)


def test_the_same_tare_on_two_sides_is_one_line(memory):
    crate = put(
        sort("now", 3_814, {"clean": 3_284, "caps": 271, "rings": 46, "labels": 128}),
        "in",
        gross_mg=3_814 * G,
        tare_mg=1_250 * G,
        containers=("crate",),
    )
    lines = memory.judge(crate, TARES).explained.slips
    assert lines[0].kinds[0] == TARE_TWICE
    assert lines[0].keys[0] == "in"


def test_a_weigh_in_of_ten_times_is_seen_when_the_bag_is_sorted():
    """12.4 kg typed for 1.24 kg, sorted to 1.18 and 0.05 kg, in a book with no history at all."""
    bag = Typed("bag", "out", ("collect", "out", "bottles", "school"), 12_400 * G, step_mg=10 * G)
    collected = Closed("c", "collect", "school", "PET", (bag,), 0.0, closes=False)
    run = sort("s", 12_400, {"clean": 1_180, "caps": 50}, whole=True)
    judged = Memory().judge(run, TARES, [(bag, collected, "in", 1)])
    first = judged.explained.named
    assert judged.state == "to look at", "a stage's first runs are never more"
    assert (first.kind, first.keys, first.right_mg) == (FACTOR_TEN, ("bag",), 1_240 * G)
    assert first.chance > 0.9


def test_an_earlier_run_has_to_stay_usual_too(memory):
    """An output is taken whole: what mends this run and breaks the one that gave it is no slip."""
    clean = next(one for one in HONEST.figures if one.key == "clean")
    shred = Closed(
        "shred",
        "shred",
        "mill",
        "PET",
        (
            Typed("w", "in", ("shred", "in", "clean"), 3_284 * G, step_mg=G, whole=True),
            Typed("f", "out", ("shred", "out", "flake"), 325 * G, step_mg=G),
        ),
        2 * G,
    )
    first = memory.judge(shred, TARES, [(clean, HONEST, "w", 1)]).explained.slips[0]
    assert (first.kind, first.keys) == (FACTOR_TEN, ("f",))


def test_chances_add_up_to_one(memory):
    run = put(HONEST, "caps", gross_mg=2_710 * G)
    lines = memory.judge(run, TARES).explained.lines
    assert math.fsum(line.chance for line in lines) == pytest.approx(1.0)


def test_neighbours_only_are_swapped():
    assert swapped(46_880_000, 20_000) == [64_880_000, 48_680_000]
    assert swapped(1_000_001, None) != []


def test_a_run_that_closes_nothing_cannot_be_explained():
    with pytest.raises(ValueError, match="closes nothing"):
        explain(Run(HONEST.figures), TARES, lambda kind: None)


def test_a_side_that_is_none_is_refused():
    with pytest.raises(ValueError, match="side"):
        Typed(1, "up", ("sort",), 1.0)
