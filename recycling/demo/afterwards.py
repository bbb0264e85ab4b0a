"""What happens besides the work: what leaves, what is put right, held, judged, and goes on."""

from __future__ import annotations

from datetime import datetime, timedelta

from recycling.demo.bench import KG, Bench, Item
from recycling.demo.cast import BALANCE, BENCH, EXTRUDER, PARTNER, USERS
from recycling.demo.melt import settings, spool
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origin_spools
from recycling.queries.runs.runs import run_page
from recycling.records.lots.mass_entries import CountEntry, DrawEntry
from recycling.records.lots.notes import HoldEntry, LotEventEntry
from recycling.records.quality.entries import VerdictEntry
from recycling.records.recorded import RunRecorded
from recycling.records.runs.entries import CheckEntry, CorrectionEntry, RunEntry, SettingEntry
from recycling.services.lots.holds import hold_place, hold_release
from recycling.services.lots.lot_notes import lot_event
from recycling.services.lots.lots_count import lots_count
from recycling.services.quality.verdict_give import verdict_give
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.run_open import run_draw, run_log, run_open, run_output_add
from recycling.services.runs.void import run_void
from recycling.stages.discard import BURNED

GOOD_NOTES = ("", "", "prints like bought", "good bridges", "a little stringing, fine after drying")
BAD_NOTES = ("snaps in the feeder", "specks in every layer", "broke at the second layer")
SPOILS_FROM_SHARE = 0.12
JUDGED_OTHERS = 26


def dispatch(bench: Bench, items: list[Item], receiver: str, hour: float) -> RunRecorded:
    """Hand lots over to a receiver, whole."""
    return _leave(bench, "dispatch", items, hour, CheckEntry("receiver", receiver))


def discard(bench: Bench, items: list[Item], where: str, why: str, hour: float) -> RunRecorded:
    """Give lots to waste collection, whole."""
    return _leave(
        bench, "discard", items, hour, CheckEntry("destination", where), CheckEntry("why", why)
    )


def _leave(
    bench: Bench, stage: str, items: list[Item], hour: float, *checks: CheckEntry
) -> RunRecorded:
    at = bench.at(hour)
    return bench.work(RunEntry(stage, at, at, inputs=bench.whole(items), checks=checks))


def give_spools(bench: Bench, hour: float) -> None:
    """Give three to five of the oldest spools to a user."""
    ready = [item for item in bench.ready(hour, "filament") if item.code.startswith("S")]
    given = ready[: bench.rng.randrange(3, 6)]
    if len(ready) > 5:
        dispatch(bench, given, bench.rng.choice(USERS), hour)


def clear_out(bench: Bench, hour: float) -> None:
    """Send caps and rings to the partner, and waste away."""
    side = bench.of("caps", "rings", polymer="HDPE")
    dispatch(bench, side, PARTNER, hour)
    for form, where, why in (
        ("labels", BURNED, "glue and paper on them"),
        ("reject", "municipal sorting", "coloured or dirty"),
        ("fines", "landfill", "too fine to feed"),
    ):
        waste = bench.of(form) + bench.of(form, polymer="PP")
        if waste:
            discard(bench, waste, where, why, hour + 0.4)


def noted(bench: Bench, code: str, kind: str, at: datetime, place: str = "") -> None:
    """Note that a lot was sealed, opened, moved or printed from."""
    lot_event(bench.operator, LotEventEntry(code, kind, at, place))


def correct_output(bench: Bench, code: str, by_mg: int, reason: str) -> None:
    """Correct the mass that a run gave, after some of the lot was used."""
    lot = lot_page(bench.lead, code)
    posting = next(one for one in lot.postings if one.kind == "run" and one.mass_mg > 0)
    posting_correct(
        bench.operator, CorrectionEntry(posting.posting, posting.mass_mg + by_mg, reason)
    )
    item = bench.shelf[code]
    bench.shelf[code] = Item(
        code, item.form, item.polymer, item.mass_mg + by_mg, item.origins, item.made_at
    )


def correct_loss(bench: Bench, run: str, account: str, mass_mg: int, reason: str) -> None:
    """Correct a measured loss."""
    postings = run_page(bench.lead, run).postings
    posting = next(one for one in postings if one.account == account)
    posting_correct(bench.operator, CorrectionEntry(posting.posting, mass_mg, reason))


def void_discard(bench: Bench, hour: float) -> None:
    """Discard the wrong tub, and undo it."""
    item = bench.of("start-up scrap")[-1]
    wrong = discard(bench, [item], "landfill", "too fine to feed", hour)
    run_void(bench.lead, wrong.code, "The wrong tub was ticked; it still stands on the shelf.")
    bench.shelf[item.code] = item


def count_stock(bench: Bench, hour: float) -> None:
    """Weigh three lots again; the difference is unaccounted."""
    items = [*bench.of("flake")[:2], *bench.of("purge compound", polymer="purge")[:1]]
    at, counts = bench.at(hour), []
    for item in items:
        found = bench.read_mg(item.mass_mg + bench.rng.gauss(-6_000, 8_000), BENCH)
        counts.append(CountEntry(item.code, found, bench.weighed(found, BENCH)))
        bench.shelf[item.code] = Item(
            item.code, item.form, item.polymer, found, item.origins, item.made_at
        )
    checks = (CheckEntry("counted_by", "Ines Tidewhistle"),)
    lots_count(bench.lead, RunEntry("count", at, at, counts=tuple(counts), checks=checks))


def hold_and_release(bench: Bench, code: str) -> None:
    """Hold a batch until its moisture was measured again."""
    placed = hold_place(
        bench.operator, HoldEntry(code, "Moisture reading above the usual; to be measured again.")
    )
    hold_release(bench.lead, placed.holds[0], "Measured again at 0.02 %; the first cup was wet.")


def judge(bench: Bench, blamed: str) -> None:
    """Let users judge spools: those with much of one collection are bad, a few others too."""
    shares = {one.lot: one.share for one in origin_spools(bench.lead, blamed)}
    exposed = [code for code in bench.spools if shares.get(code, 0) > 0.02]
    others = [code for code in bench.spools if code not in exposed]
    judged = exposed[::2] + exposed[1::3]
    judged += bench.rng.sample(others, min(JUDGED_OTHERS, len(others)))
    for place, code in enumerate(dict.fromkeys(judged)):
        used = bench.shelf[code].made_at + timedelta(days=bench.rng.randrange(1, 8))
        noted(bench, code, "printed" if place % 3 else "opened", min(used, bench.at(12)))
        giver = (bench.viewer, bench.operator, bench.lead)[place % 3]
        if shares.get(code, 0) >= SPOILS_FROM_SHARE or place == len(judged) - 3:
            spoilt = shares.get(code, 0) >= SPOILS_FROM_SHARE
            defects = ("brittle", "foreign particles") if spoilt else ("diameter out of tolerance",)
            note = bench.rng.choice(BAD_NOTES) if spoilt else "jams now and then"
            verdict_give(
                giver, VerdictEntry(code, False, defects[: bench.rng.randrange(1, 3)], note)
            )
        else:
            verdict_give(giver, VerdictEntry(code, True, note=bench.rng.choice(GOOD_NOTES)))


def hold_all_from(bench: Bench, blamed: str) -> None:
    """Hold a collection with all that descends from it."""
    hold_place(
        bench.lead,
        HoldEntry(blamed, "Spools with much of it snap; specks of another plastic.", True),
    )


def go_on(bench: Bench, now: datetime) -> RunRecorded:
    """Leave a run open that is going on."""
    flake = bench.of("dried flake")[0]
    start = now - timedelta(minutes=110)
    opened = run_open(
        bench.operator,
        RunEntry(
            "extrude",
            start,
            machine=EXTRUDER,
            operators=("Tomas Lanternby",),
            polymer="PET",
            settings=settings(bench, "PET", start, 0.5)[:6],
        ),
    )
    part = bench.read_mg(min(flake.mass_mg * 0.45, 1.3 * KG), BENCH)
    later = start + timedelta(minutes=12)
    run_draw(bench.operator, opened.code, [DrawEntry(flake.code, part)], later)
    run_draw(
        bench.operator,
        opened.code,
        [DrawEntry(flake.code, bench.read_mg(part * 0.6, BENCH))],
        start + timedelta(minutes=55),
    )
    run_output_add(
        bench.operator,
        opened.code,
        [spool(bench, bench.read_mg(748_000, BALANCE), "PET")],
        start + timedelta(minutes=80),
    )
    run_log(
        bench.operator,
        opened.code,
        settings=(
            SettingEntry("zone_4_c", "261", start + timedelta(minutes=84), "surface even again"),
        ),
    )
    return opened
