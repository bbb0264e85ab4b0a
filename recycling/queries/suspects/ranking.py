"""Which candidate spoilt the spools: the evidence of all judged ones, and whom to ask next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan

import numpy as np
from django.db.models import QuerySet

from recycling.calc.quality.verdicts import Standing, standings
from recycling.calc.suspects.next_verdict import next_verdicts
from recycling.calc.suspects.posterior import Suspicion, weigh_suspects
from recycling.calc.suspects.priors import USUAL, SuspectPriors
from recycling.calc.suspects.ranking import SuspectRanking, ranking
from recycling.models import Lot, Run
from recycling.queries.setup.parameters import Entered, entered
from recycling.queries.suspects.bands import BAND_KEYS, bands_by
from recycling.queries.suspects.exposures import Exposures, Traced, exposed, traced
from recycling.queries.suspects.places import last_place
from recycling.queries.suspects.shifts import parts_alone
from recycling.queries.suspects.told import told_of
from recycling.records.actors import Actor
from recycling.records.quality.verdicts import DEFECTS
from recycling.records.setup.practice import PracticeRow
from recycling.records.suspects.ranking import (
    KINDS,
    JudgedSpool,
    LeftOut,
    SuspectQuestion,
    SuspectRow,
    Suspects,
    VerdictWanted,
)
from shared.codes import read_code
from shared.errors import Collected
from shared.said import say

MOST_UNJUDGED, MOST_WANTED = 500, 5
UNDECIDED = ("no_contrast", "too_little", "none_leads", "undecided")
WORDS = {0: "good", 1: "bad", 2: "contradictory"}


@dataclass(frozen=True)
class Evidence:
    """The judged lots, what was said of each, how exposed it was, and what was left out."""

    exposed: Exposures
    codes: tuple[str, ...]
    counts: tuple[tuple[int, int], ...]
    standing: np.ndarray
    unjudged: np.ndarray
    left_out: LeftOut
    places: dict[int, str]
    back: Traced
    rests_on: tuple[PracticeRow, ...]


def suspects(
    actor: Actor,
    question: SuspectQuestion | None = None,
    priors: SuspectPriors | None = None,
    limit: int = 20,
) -> Suspects:
    """Weigh every candidate over the judged spools that the question is about.

    Raises
    ------
    Refused
        When the defect or a kind is none, or the period ends before it starts.
    """
    question, priors = question or SuspectQuestion(), priors or USUAL
    evidence = gather(actor, question)
    return weigh(evidence, question, priors, limit)[0]


def weigh(
    evidence: Evidence, question: SuspectQuestion, priors: SuspectPriors, limit: int = 20
) -> tuple[Suspects, SuspectRanking]:
    """Rank the candidates and say which verdict would tell the most."""
    found = weigh_suspects(evidence.exposed.shares, evidence.standing, priors)
    ranked = ranking(found, limit)
    candidates = evidence.exposed.candidates
    rows = tuple(_row(line, candidates) for line in ranked.lines)
    made = [evidence.back.makers[lot] for lot in evidence.exposed.lots]
    answer = Suspects(
        state=ranked.state.value,
        words=ranked.words,
        rows=rows,
        lines_in_all=ranked.lines_in_all,
        none_posterior=ranked.none_posterior,
        others_posterior=ranked.others_posterior,
        unseen=len(ranked.unseen),
        unseen_posterior=ranked.unseen_posterior,
        bad_spools=ranked.bad_spools,
        good_spools=ranked.good_spools,
        unlike_twins=ranked.unlike_twins,
        left_out=evidence.left_out,
        wanted=_wanted(evidence, found),
        spools=_judged(evidence, ranked),
        question=question,
        priors=priors,
        rests_on=evidence.rests_on,
        by_shift=ranked.state.value in UNDECIDED
        and parts_alone(rows, made, evidence.standing.tolist()),
    )
    return answer, ranked


def gather(
    actor: Actor,
    question: SuspectQuestion,
    also: Sequence[Lot] = (),
    rules: Entered | None = None,
) -> Evidence:
    """Read the verdicts that the question is about, and trace their spools in one go.

    Lots in `also` are traced back with them; the workshop's rules are read unless given.
    """
    _check(question)
    made = _asked(actor, question)
    told = told_of(actor.workshop_id, made, question.defects)
    fresh = list(
        made.exclude(made_by__state=Run.VOID)
        .filter(made_mg__gt=0, spool__isnull=False, verdicts__isnull=True)
        .annotate(place=last_place())
        .order_by("-number")
        .values_list("pk", "code", "made_by_id", "place")[:MOST_UNJUDGED]
    )
    makers = {pk: maker for pk, (_, maker) in told.lots.items()} | {row[0]: row[2] for row in fresh}
    rules = rules or entered(actor.workshop_id)
    practice = rules.practice
    back = traced(makers | {lot.pk: lot.made_by_id for lot in also}, bands_by(practice), rules)
    said = [told.counts.get(pk, (0, 0)) for pk in makers]
    standing = standings([good for good, _ in said], [bad for _, bad in said])
    codes = [code for code, _ in told.lots.values()]
    left_out = LeftOut(
        contradictory=int((standing == Standing.CONTRADICTORY).sum()),
        other_defects=told.other_defects,
        void=told.void,
        waiting=told.waiting,
        unknown=tuple(sorted({_read(code) for code in question.spools} - set(codes))),
    )
    return Evidence(
        exposed(back, list(makers), question.kinds or KINDS),
        (*codes, *(code for _, code, _, _ in fresh)),
        tuple(said),
        standing,
        np.arange(len(makers)) >= len(told.lots),
        left_out,
        {pk: place or "" for pk, _, _, place in fresh},
        back,
        tuple(practice[key] for key in BAND_KEYS),
    )


def _check(question: SuspectQuestion) -> None:
    found = Collected()
    for place, defect in enumerate(question.defects):
        if defect not in DEFECTS:
            found.add(
                "defect-unknown",
                say("Defects are: {defects}.", defects=", ".join(DEFECTS)),
                f"/defects/{place}",
            )
    for place, kind in enumerate(question.kinds):
        if kind not in KINDS:
            found.add(
                "kind-unknown",
                say("Kinds are: {kinds}.", kinds=", ".join(KINDS)),
                f"/kinds/{place}",
            )
    if question.start and question.end and question.end <= question.start:
        found.add("period-backwards", "The period ends before it starts.", "/end")
    found.refuse()


def _read(code: str) -> str:
    return read_code(code) or code.strip()


def _asked(actor: Actor, question: SuspectQuestion) -> QuerySet[Lot]:
    lots = Lot.objects.filter(workshop_id=actor.workshop_id, form="filament")
    if question.polymer:
        lots = lots.filter(polymer=question.polymer)
    if question.spools:
        lots = lots.filter(code__in=[_read(code) for code in question.spools])
    if question.start:
        lots = lots.filter(made_by__ended_at__gte=question.start)
    if question.end:
        lots = lots.filter(made_by__ended_at__lt=question.end)
    return lots


def _row(line: object, candidates: Sequence) -> SuspectRow:
    facts = {name: getattr(line, name) for name in SuspectRow.__dataclass_fields__}
    members = [candidates[place] for place in facts["members"]]
    facts["members"] = tuple(sorted(members, key=lambda one: (KINDS.index(one.kind), one.key)))
    return SuspectRow(**facts)


def _wanted(evidence: Evidence, found: Suspicion) -> tuple[VerdictWanted, ...]:
    rows = np.flatnonzero(evidence.unjudged)
    if not len(rows) or not evidence.exposed.shares.candidates:
        return ()
    best = next_verdicts(found, evidence.exposed.shares.of_spools(evidence.unjudged), MOST_WANTED)
    return tuple(
        VerdictWanted(
            evidence.codes[rows[one.spool]],
            one.gain_bits,
            one.bad_chance,
            evidence.places[evidence.exposed.lots[rows[one.spool]]],
        )
        for one in best
    )


def _judged(evidence: Evidence, ranked: SuspectRanking) -> tuple[JudgedSpool, ...]:
    """Give the judged spools with their share of the first line, the largest first."""
    lead = ranked.lines[0].members[0] if ranked.lines else None
    shares = evidence.exposed.shares
    of_lead = shares.candidate == lead if lead is not None else np.zeros(0, dtype=bool)
    share = np.zeros(shares.spools)
    if lead is not None:
        share[shares.spool[of_lead]] = shares.share[of_lead]
    spools = [
        JudgedSpool(
            evidence.codes[place],
            WORDS[int(evidence.standing[place])],
            *evidence.counts[place],
            None if lead is None or isnan(share[place]) else float(share[place]),
            evidence.back.rests_on(evidence.exposed.lots[place]),
        )
        for place in np.flatnonzero(~evidence.unjudged)
    ]
    return tuple(sorted(spools, key=lambda one: -(one.share or 0)))
