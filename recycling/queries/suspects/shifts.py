"""Whether verdicts are parted by who was at work and by nothing else: then ask what was done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import comb

from recycling.calc.quality.verdicts import Standing
from recycling.models import RunOperator
from recycling.queries.lots.run_paths import in_chunks
from recycling.records.suspects.ranking import SuspectRow

MOST_CHANCE = 0.05
"""So likely at most is such a parting by chance alone (Fisher's exact test, one margin)."""


def parts_alone(rows: Sequence[SuspectRow], made: Sequence[int], standing: Sequence[int]) -> bool:
    """Say whether shifts alone part the runs of bad spools from those of good ones.

    Nobody is named: people are no candidates. `made` has the run of each spool.
    """
    bad, good = (
        [run for run, said in zip(made, standing, strict=True) if said == one]
        for one in (Standing.BAD, Standing.GOOD)
    )
    if not bad or not good or 1 / comb(len(bad) + len(good), len(bad)) > MOST_CHANCE:
        return False
    if any(not row.unexposed_bad and not row.exposed_good for row in rows):
        return False
    worked: dict[int, set[int]] = defaultdict(set)
    for chunk in in_chunks({*bad, *good}):
        at_work = RunOperator.objects.filter(run_id__in=chunk).values_list("run_id", "member_id")
        for run_id, member_id in at_work:
            worked[run_id].add(member_id)
    of_bad, of_good = ([worked[run_id] for run_id in one] for one in (bad, good))
    return _apart(of_bad, of_good) or _apart(of_good, of_bad)


def _apart(here: Sequence[set[int]], there: Sequence[set[int]]) -> bool:
    """Say whether one and the same worked on all of these and on none of those."""
    others: set[int] = set()
    return bool(set.intersection(*here) - others.union(*there))
