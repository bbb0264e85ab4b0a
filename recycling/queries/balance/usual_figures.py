"""What figures of a kind usually are here: the past that a new one is held against."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from recycling.calc.balance.usual_figures import past_of
from recycling.ledger.sql import moment, rows
from recycling.stages import stage
from recycling.stages.declaration import RECEIVED

MOST_RUNS = 60
MOST_RECEIVED = 200
MOST_LOTS = 600
LEAST_OF_SOURCE = 8
"""Masses from one giver from which on a new one of theirs is held against those alone."""

MOVED = 4
"""Unusual figures of a kind in a row that were right: such are the usual ones from now on."""

FAR = "figure-far"

_KNOWN = """
SELECT (SELECT MAX(capacity_mg) FROM recycling_scale
         WHERE workshop_id = %s AND retired_at IS NULL),
       (SELECT MIN(interval_mg) FROM recycling_scale
         WHERE workshop_id = %s AND retired_at IS NULL),
       (SELECT MIN(ended_at) FROM recycling_run WHERE workshop_id = %s AND account_id <> %s),
       l.form, l.polymer, l.made_mg, o.source_id,
       (SELECT SUM(d.mass_mg) FROM recycling_draw d WHERE d.run_id = r.account_id),
       CASE WHEN EXISTS (SELECT 1 FROM recycling_figuredoubt f
                          WHERE f.lot_id = l.account_id AND f.key LIKE 'figure-far:%%')
            THEN 1 ELSE 0 END
  FROM recycling_workshop w
  LEFT JOIN (SELECT account_id, origin_id FROM recycling_run
              WHERE workshop_id = %s AND stage = %s AND state = 'closed' AND account_id <> %s
              ORDER BY ended_at DESC LIMIT %s) r ON 1 = 1
  LEFT JOIN recycling_lot l ON l.made_by_id = r.account_id
  LEFT JOIN recycling_origin o ON o.id = r.origin_id
 WHERE w.book_id = %s ORDER BY l.number LIMIT %s
"""


@dataclass(frozen=True)
class Past:
    """Past figures of a kind: their natural logs, in mg or as shares of what went in."""

    logs: tuple[float, ...] = ()
    shares: bool = False


NO_PAST = Past()


@dataclass(frozen=True)
class UsualHere:
    """What a workshop's scales can weigh, mg, when its book begins, its past figures, and of which
    polymer each form was last.

    Figures of a stage go by form; what comes in also by who gave, where they gave often enough.
    """

    largest_mg: int | None
    step_mg: int | None
    first_at: datetime | None
    by_form: Mapping[str, Past]
    by_giver: Mapping[tuple[str, int], Past]
    polymers: Mapping[str, str]

    def past(self, form: str, source_id: int | None = None) -> Past:
        """Give the past of a form, of this giver where enough is known of them."""
        given = self.by_giver.get((form, source_id)) if source_id else None
        return given or self.by_form.get(form, NO_PAST)


def usual_here(workshop_id: int, stage_key: str, without: int = 0) -> UsualHere:
    """Read what is usual at a stage, the run of this account left out; one question."""
    declared = stage(stage_key)
    received = declared is not None and declared.border == RECEIVED
    most = MOST_RECEIVED if received else MOST_RUNS
    asked = [*[workshop_id] * 3, without, workshop_id, stage_key, without, most]
    found = rows(_KNOWN, [*asked, workshop_id, MOST_LOTS])
    figures: dict[str, list[tuple[int, int, int]]] = defaultdict(list)
    given: dict[tuple[str, int], list[tuple[int, int, int]]] = defaultdict(list)
    polymers: dict[str, str] = {}
    for *_, form, polymer, made_mg, source_id, drawn_mg, odd in found:
        if form:
            polymers[form] = polymer
        if made_mg:
            one = (made_mg, int(drawn_mg or 0), odd)
            figures[form].append(one)
            if source_id:
                given[form, source_id].append(one)
    largest, step, first_at = found[0][:3]
    return UsualHere(
        largest,
        step,
        moment(first_at) if first_at else None,
        {form: _past(listed) for form, listed in figures.items()},
        {key: _past(one) for key, one in given.items() if len(one) >= LEAST_OF_SOURCE},
        polymers,
    )


def _past(listed: list[tuple[int, int, int]]) -> Past:
    """Leave out what was unusual, unless such came several times in a row."""
    moved = len(listed) > MOVED and all(odd for *_, odd in listed[-MOVED:])
    return Past(*past_of(_pairs(listed, moved)))


def _pairs(listed: Iterable[tuple[int, int, int]], moved: bool) -> list[tuple[float, float]]:
    return [(made_mg, drawn_mg) for made_mg, drawn_mg, odd in listed if moved or not odd]
