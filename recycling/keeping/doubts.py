"""Figures that are asked about once: said right after they were recorded, and kept."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime

from django.utils import timezone

from recycling.calc.balance.typed_limits import moment_doubt, other_year, span_doubt
from recycling.keeping.doubted_figures import Asked, Figure, of_mass, of_scale
from recycling.keeping.lookups import Means
from recycling.keeping.prepared import stage_named
from recycling.models import FigureDoubt, Lot, Run
from recycling.queries.balance.usual_figures import usual_here
from recycling.records.actors import Actor
from recycling.records.balance.doubts import EntryDoubt, Suggestion
from recycling.records.lots.mass_entries import OutputEntry
from recycling.stages.declaration import Stage
from shared.said import kept, say

NOT_ASKED = "below_minimum_load"
MOST_ASKED = 2
"""Doubts about figures of one entry; the largest are asked."""


def outputs_typed(outputs: Sequence[OutputEntry], lots: Sequence[Lot]) -> list[Figure]:
    """Say what was typed of outputs, each with the lot that it became."""
    return [
        Figure(
            f"/outputs/{place}",
            lot.form,
            lot.made_mg,
            one.weighing,
            lot.pk,
            lot.form,
            lot.polymer,
            spool=one.spool,
            count=one.count,
        )
        for place, (one, lot) in enumerate(zip(outputs, lots, strict=False))
    ]


def told(code: str, sentences: Iterable[str], field: str = "") -> tuple[EntryDoubt, ...]:
    """Make doubts of sentences that ask nothing of a figure, and are not kept."""
    return tuple(
        EntryDoubt(f"{code}:{place}", sentence, field) for place, sentence in enumerate(sentences)
    )


def asked_of(
    actor: Actor,
    run: Run,
    figures: Sequence[Figure],
    means: Means,
    drawn_mg: int = 0,
    more: Sequence[Asked] = (),
    moments: Sequence[tuple[str, datetime | None]] = (),
) -> tuple[EntryDoubt, ...]:
    """Ask about the masses of an entry and its times, and keep what was asked.

    Parameters
    ----------
    actor : Actor
        Who recorded it, with what was said to be right.
    run : Run
        The run that they are of.
    figures : sequence of Figure
        What was typed, in the order typed.
    means : Means
        Scales that were named.
    drawn_mg : int
        What went in, mg; 0 where that is not known yet.
    more : sequence of Asked
        What else is to be asked of the entry.
    moments : sequence of (str, datetime or None)
        Times that were typed, each with where it stands.

    Returns
    -------
    tuple of EntryDoubt
        What nobody said to be right.
    """
    usual = usual_here(actor.workshop_id, run.stage, run.pk)
    asked = [*more, *times_asked(moments, usual.first_at)]
    hints: list[EntryDoubt] = []
    declared, out_mg = stage_named(run.stage), 0
    for one in figures:
        if one.mass_mg <= 0:
            continue
        if one.form or one.lot_id is None:
            out_mg += one.mass_mg
        left = drawn_mg - out_mg if drawn_mg and not declared.wets else None
        mine = of_mass(one, usual, drawn_mg, left) + of_scale(one, means)
        hints += [asked.doubt for asked in mine if asked.doubt.key.startswith(NOT_ASKED)]
        asked += [one for one in mine if not one.doubt.key.startswith(NOT_ASKED)][:1]
    return (*hints, *kept_doubts(actor, run, asked))


def kept_doubts(actor: Actor, run: Run | None, asked: list[Asked]) -> tuple[EntryDoubt, ...]:
    """Keep the largest doubts, answered where the request says that the figure is right."""
    asked = sorted(asked, key=lambda one: -one.far)[:MOST_ASKED]
    if not asked:
        return ()
    now, sure = timezone.now(), actor.confirmed
    right = [bool({one.doubt.key, one.doubt.field} & sure) for one in asked]
    FigureDoubt.objects.bulk_create(
        FigureDoubt(
            workshop_id=actor.workshop_id,
            run=run,
            lot_id=one.lot_id,
            key=one.doubt.key[:120],
            said=kept(one.doubt.said),
            suggestions=[each.value for each in one.doubt.suggestions],
            raised_at=now,
            answered_at=now if said else None,
            answered_by=actor.reference if said else None,
        )
        for one, said in zip(asked, right, strict=True)
    )
    return tuple(one.doubt for one, said in zip(asked, right, strict=True) if not said)


def times_asked(
    moments: Sequence[tuple[str, datetime | None]], first_at: datetime | None = None
) -> list[Asked]:
    """Ask about times to come and about those long before all else in the book.

    Of several that are odd in the same way the first is asked: one slip is one question.
    """
    now, found = timezone.now(), dict[str, Asked]()
    for field, at in moments:
        code = moment_doubt(at, first_at, now) if at is not None else ""
        if at is None or not code or code in found:
            continue
        said = _TIMES[code](at, first_at or at)
        other = other_year(at, now)
        slip = other is not None and (code != "to-come" or at.year != now.year)
        offered = (Suggestion(other.isoformat()),) if other is not None and slip else ()
        key = f"{code}:{field}:{at:%Y-%m-%d}"
        found[code] = Asked(EntryDoubt(key, said, field, offered), math.inf)
    return list(found.values())


_TIMES: Mapping[str, Callable[[datetime, datetime], str]] = {
    "to-come": lambda at, _: say("{when} is still to come.", when=_clock(at)),
    "long-before": lambda at, first: say(
        "{day} is long before the first entry of this book, of {first}.",
        day=_day(at),
        first=_day(first),
    ),
    "before-2000": lambda at, _: say("{day} is before 2000.", day=_day(at)),
}


def spans_asked(stage: Stage, run: Run, noted: Sequence[tuple[str, str, str]]) -> list[Asked]:
    """Ask about hours that are longer than the run; each with its field, key and value."""
    found: list[Asked] = []
    if run.ended_at is None or run.ended_at == run.started_at:
        return found
    run_s = (run.ended_at - run.started_at).total_seconds()
    for place, key, value in noted:
        field = stage.check(key)
        if field is None or field.unit != "h":
            continue
        hours = float(value.strip().replace(",", "."))
        if span_doubt(hours * 3600, run_s):
            said = say(
                "{field}: {hours:g} h, but the run lasted {minutes} min.",
                field=say(field.label),
                hours=hours,
                minutes=max(round(run_s / 60), 1),
            )
            found.append(Asked(EntryDoubt(f"longer-than-run:{place}:{hours:g}", said, place), 2.0))
    return found


def _day(at: datetime) -> str:
    return timezone.localtime(at).strftime("%Y-%m-%d")


def _clock(at: datetime) -> str:
    return timezone.localtime(at).strftime("%Y-%m-%d %H:%M")
