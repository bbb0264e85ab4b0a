"""What an entry must obey by its stage's declaration; all problems are found at once."""

from __future__ import annotations

from collections.abc import Mapping

from recycling.calc.lots.feed_order import BY_WHAT_IS_KNOWN, FEED_ORDER, MODELS
from recycling.keeping.lookups import LotFacts, unknown_code
from recycling.keeping.texts import check_text
from recycling.keeping.weighing_rules import check_mass, check_weighing
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.runs.entries import RunEntry
from recycling.stages.declaration import Stage
from shared.errors import Collected
from shared.said import say


def check_draws(
    stage: Stage, draws: tuple[DrawEntry, ...], lots: Mapping[str, LotFacts], found: Collected
) -> None:
    """Note problems of what a run draws: unknown, of a wrong form, empty, twice."""
    seen: set[str] = set()
    for place, draw in enumerate(draws):
        pointer = f"/inputs/{place}"
        lot = lots.get(draw.lot)
        if lot is None:
            found.add("lot-unknown", unknown_code(draw.lot, "lot"), f"{pointer}/lot")
            continue
        if lot.code in seen:
            found.add(
                "lot-twice",
                say("Lot {lot} is drawn twice; add up.", lot=lot.code),
                f"{pointer}/lot",
            )
        seen.add(lot.code)
        if lot.form not in stage.takes:
            found.add(
                "form-wrong",
                say(
                    "Lot {lot} is the heel of a machine; it stays there until that machine runs.",
                    lot=lot.code,
                ),
                f"{pointer}/lot",
            )
        _check_drawn_mass(draw, lot, pointer, found)


def _check_drawn_mass(draw: DrawEntry, lot: LotFacts, pointer: str, found: Collected) -> None:
    if draw.all or draw.mass_mg is None:
        if not draw.all:
            found.add("mass-missing", "Give a mass, or take all of it.", f"{pointer}/mass_mg")
        elif draw.mass_mg is not None:
            found.add("mass-and-all", "Give a mass or take all, not both.", f"{pointer}/mass_mg")
        elif not lot.on_hand_mg:
            found.add(
                "lot-used-up", say("Nothing is left of lot {lot}.", lot=lot.code), f"{pointer}/lot"
            )
        else:
            check_weighing(draw.weighing, lot.on_hand_mg, f"{pointer}/weighing", found)
        return
    check_mass(draw.mass_mg, f"{pointer}/mass_mg", found)
    check_weighing(draw.weighing, draw.mass_mg, f"{pointer}/weighing", found)


def check_feeds(entry: RunEntry, lots: Mapping[str, LotFacts], found: Collected) -> None:
    """Note problems of refills: each is of a lot that the run draws, and no more than it draws."""
    drawn = {
        lots[draw.lot].code: lots[draw.lot].on_hand_mg if draw.all else draw.mass_mg or 0
        for draw in entry.inputs
        if draw.lot in lots
    }
    for place, feed in enumerate(entry.feeds):
        lot, pointer = lots.get(feed.lot), f"/feeds/{place}"
        if lot is None:
            found.add("lot-unknown", unknown_code(feed.lot, "lot"), f"{pointer}/lot")
            continue
        check_mass(feed.mass_mg, f"{pointer}/mass_mg", found)
        drawn[lot.code] = drawn.get(lot.code, 0) - feed.mass_mg
        if drawn[lot.code] < 0:
            found.add(
                "fed-more-than-drawn",
                say("More was fed of lot {lot} than the run draws from it.", lot=lot.code),
                f"{pointer}/mass_mg",
            )


def check_shape(stage: Stage, entry: RunEntry, found: Collected) -> None:
    """Note problems of a whole run that need no look at the book."""
    if entry.ended_at is not None and entry.ended_at < entry.started_at:
        found.add("end-before-start", "The end is before the start.", "/ended_at")
    if len(entry.inputs) < stage.least_lots and entry.ended_at is not None:
        found.add(
            "inputs-missing",
            say(
                "{stage} draws at least {least_lots} {words}.",
                stage=stage.title,
                least_lots=stage.least_lots,
                words="lots" if stage.least_lots > 1 else "lot",
            ),
            "/inputs",
        )
    if stage.counts and (entry.inputs or entry.outputs):
        found.add("count-only", "A count takes counted masses only.", "/counts")
    if entry.counts and not stage.counts:
        found.add("count-only", say("{stage} counts no lots.", stage=stage.title), "/counts")
    if entry.machine and not (stage.machine or stage.any_machine):
        found.add("machine-wrong", say("{stage} uses no machine.", stage=stage.title), "/machine")
    check_text(entry.note, "/note", found)
    check_model(stage, entry.composition_model, found)


def check_model(stage: Stage, model: str, found: Collected) -> None:
    """Note a problem when origins cannot be computed in this way for the stage."""
    if model == BY_WHAT_IS_KNOWN:
        return
    if model not in MODELS:
        found.add(
            "model-unknown", say("One of {models}.", models=", ".join(MODELS)), "/composition_model"
        )
    elif model == FEED_ORDER and not stage.keeps_heel:
        found.add(
            "model-wrong",
            say("{stage} has no feed in order; its outputs are well mixed.", stage=stage.title),
            "/composition_model",
        )
