"""Lines of what may have happened to a run, in words, with the figures to put right."""

from __future__ import annotations

from collections.abc import Sequence

from recycling.calc.balance.closure import Closure
from recycling.calc.balance.slip_changes import (
    FACTOR_TEN,
    LEFT_OUT,
    SWAPPED,
    TARE_FORGOTTEN,
    TARE_TWICE,
    TWICE,
)
from recycling.calc.balance.slip_lines import Line
from recycling.calc.balance.usual_loss import Band, first_for
from recycling.queries.balance.known_masses import Figure
from recycling.queries.balance.slips import Explanation
from recycling.records.balance.closures import LikelySlip, ToCorrect
from recycling.stages.receive import STAGE as RECEIVE
from shared.said import say
from shared.units import show_mass

MOST_LINES = 3
LEAST_CHANCE = 0.05
"""Lines after the first are shown from this chance on."""


def likely_slips(run_id: int, why: Explanation) -> tuple[LikelySlip, ...]:
    """Show the likeliest slips, the best first."""
    lines = why.explained.slips[:MOST_LINES]
    likely = [one for place, one in enumerate(lines) if not place or one.chance >= LEAST_CHANCE]
    return tuple(_shown(run_id, line, why) for line in likely)


def _shown(run_id: int, line: Line, why: Explanation) -> LikelySlip:
    named = [why.figures[int(str(key))] for key in line.keys]
    return LikelySlip(
        kind=line.kind,
        text=_sentence(run_id, line, named),
        left_mg=round(line.left_mg),
        postings=tuple(one.row["pk"] for one in named),
        chance=line.chance,
        right_mg=None if line.right_mg is None else round(line.right_mg),
        run=named[0].row["run_code"] if named else "",
    )


def _label(one: Figure, run_id: int | None = None) -> str:
    """Name a figure; where it stands in another run than the one that is looked at, that too."""
    row = one.row
    if not row["code"]:
        return str(row["name"])
    label = say("{lot} {form}", lot=row["code"], form=row["form"])
    if run_id is None or row["process_id"] == run_id:
        return label
    if row["run_stage"] == RECEIVE.key:
        return say("{lot} {form}, when it was weighed in", lot=row["code"], form=row["form"])
    return say("{lot} {form} in {run}", lot=row["code"], form=row["form"], run=row["run_code"])


def _sentence(run_id: int, line: Line, named: Sequence[Figure]) -> str:
    if line.kind == LEFT_OUT:
        return say(
            "Perhaps not entered: {form}, about {mass}.",
            form=line.left_out[2],
            mass=show_mass(_about(line.right_mg or 0)),
        )
    figure = _label(named[0], run_id)
    if line.kind == TWICE:
        return say(
            "{figure}: the same figure {count} times, one perhaps entered twice.",
            figure=figure,
            count=len(named),
        )
    values = {
        "figure": figure,
        "now": show_mass(abs(named[0].mass_mg)),
        "right": show_mass(round(line.right_mg or 0)),
        "container": line.container,
    }
    if line.kind in (TARE_FORGOTTEN, TARE_TWICE):
        return _tare(run_id, line, named, values)
    if line.kind == SWAPPED:
        return say(
            "{figure}: perhaps two digits the other way round. {right} instead of {now}.", **values
        )
    if line.kind == FACTOR_TEN:
        return say(
            "{figure}: perhaps the point is one place off. {right} instead of {now}.", **values
        )
    return say("{figure}: perhaps read in another unit. {right} instead of {now}.", **values)


def _tare(run_id: int, line: Line, named: Sequence[Figure], values: dict[str, str]) -> str:
    if len(named) > 1:
        twice, never = named[:2] if line.kind == TARE_TWICE else named[1::-1]
        return say(
            "{container}: perhaps taken off twice from {twice}, or not at all from {never}.",
            container=line.container,
            twice=_label(twice, run_id),
            never=_label(never, run_id),
        )
    if line.kind == TARE_FORGOTTEN:
        return say(
            "{figure}: perhaps {container} was not taken off. {right} instead of {now}.", **values
        )
    return say(
        "{figure}: perhaps the tare was taken off twice. {right} instead of {now}.", **values
    )


def usual_sentence(stage: str, found: Closure, went_in_mg: int) -> str:
    """Say what is unaccounted for and what is usual: from, to, and from how many runs."""
    left_mg, band = round(found.unaccounted.value), found.band
    values = {
        "left": show_mass(abs(left_mg)),
        "went_in": show_mass(went_in_mg),
        "usual": _usual(stage, band),
    }
    if left_mg < 0:
        return say("{left} more came out than the {went_in} that went in. {usual}", **values)
    return say("{left} unaccounted of {went_in}. {usual}", **values)


def _usual(stage: str, band: Band) -> str:
    low, high = (show_mass(_about(abs(end))) for end in (band.low_mg, band.high_mg))
    values = {"low": low, "high": high, "runs": band.runs}
    if not band.runs:
        return say("Up to {high} is usual by a first setting (default, not checked).", **values)
    if first_for(stage).gains and band.low_mg < 0:
        if band.high_mg <= 0:
            return say("Here {high} to {low} taken up is usual (runs: {runs}).", **values)
        return say("Here {low} taken up to {high} lost is usual (runs: {runs}).", **values)
    if band.low_mg <= 0:
        return say("Here up to {high} is usual (runs: {runs}).", **values)
    return say("Here {low} to {high} are usual (runs: {runs}).", **values)


def _about(mass_mg: float) -> int:
    """Round to two digits."""
    digits = max(len(str(round(mass_mg))) - 2, 0)
    return round(mass_mg / 10**digits) * 10**digits


def to_correct(
    figures: Sequence[Figure], slips: Sequence[LikelySlip], why: Explanation
) -> tuple[ToCorrect, ...]:
    """Name what to look at first: what the slips name, else the least sure figure."""
    named: dict[int, int | None] = {}
    for slip in slips:
        right_mg = slip.right_mg if slip.kind != TWICE else 0
        for place, posting in enumerate(slip.postings):
            named.setdefault(posting, right_mg if place == 0 else None)
    if named:
        chosen = [(why.figures[posting], right_mg) for posting, right_mg in named.items()]
    else:
        typed = [one for one in figures if not one.by_book]
        chosen = [(max(typed, key=lambda one: one.sure.u_mg), None)] if typed else []
    return tuple(
        ToCorrect(one.row["pk"], _label(one), abs(one.mass_mg), right_mg, one.row["run_code"])
        for one, right_mg in chosen[:MOST_LINES]
    )
