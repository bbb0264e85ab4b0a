"""The data of a finding as text that never changes, and back; people are no candidates in it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, replace
from datetime import datetime
from math import isnan
from typing import Any

import numpy as np

from recycling.calc.suspects.priors import SuspectPriors
from recycling.queries.suspects.ranking import Evidence
from recycling.records.setup.practice import PracticeRow
from recycling.records.suspects.ranking import (
    KINDS,
    Candidate,
    JudgedSpool,
    LeftOut,
    SuspectQuestion,
    SuspectRow,
    Suspects,
    VerdictWanted,
)

NAMED_LATER = frozenset({"origin"})
"""Kinds whose names are givers': looked up when read, so that they can be erased."""


def frozen(evidence: Evidence, answer: Suspects, sequence: int) -> str:
    """Write a finding with the shares and verdicts that it rests on, always in the same way."""
    shares = evidence.exposed.shares.of_spools(~evidence.unjudged)
    places = np.flatnonzero(~evidence.unjudged)
    held = {
        "answer": asdict(_nameless(answer)),
        "candidates": [asdict(_unnamed(one)) for one in evidence.exposed.candidates],
        "sequence": sequence,
        "shares": [
            [int(spool), int(candidate), None if isnan(share) else round(float(share), 7)]
            for spool, candidate, share in zip(
                shares.spool, shares.candidate, shares.share, strict=True
            )
        ],
        "spools": [
            {"code": evidence.codes[place], "standing": int(evidence.standing[place])}
            for place in places
        ],
    }
    return json.dumps(held, sort_keys=True, separators=(",", ":"), default=_moment)


def digest_of_body(body: str) -> str:
    """Give the SHA-256 of a finding's data."""
    return hashlib.sha256(body.encode()).hexdigest()


def thawed(body: str) -> Suspects:
    """Read the answer back from a finding's data."""
    held = json.loads(body)["answer"]
    question = held.pop("question")
    for name in ("start", "end"):
        question[name] = _read_moment(question[name])
    if "defect" in question:  # as asked before several could be
        question["defects"] = filter(None, [question.pop("defect")])
    for name in ("defects", "spools", "kinds"):
        question[name] = tuple(question[name])
    question["kinds"] = tuple(kind for kind in question["kinds"] if kind in KINDS)
    left_out = held.pop("left_out")
    left_out["unknown"] = tuple(left_out["unknown"])
    return Suspects(
        **{
            **held,
            "words": tuple(held["words"]),
            "rows": tuple(row for row in map(_row, held["rows"]) if row.members),
            "wanted": tuple(VerdictWanted(**one) for one in held["wanted"]),
            "spools": tuple(JudgedSpool(**one) for one in held["spools"]),
            "rests_on": tuple(PracticeRow(**row) for row in held.get("rests_on", ())),
            "priors": SuspectPriors(**held["priors"]),
        },
        question=SuspectQuestion(**question),
        left_out=LeftOut(**left_out),
    )


def renamed(answer: Suspects, names: dict[str, str]) -> Suspects:
    """Put today's names to the candidates of a finding, by their keys."""
    rows = tuple(
        replace(
            row,
            members=tuple(replace(one, name=names.get(one.key, one.name)) for one in row.members),
        )
        for row in answer.rows
    )
    return replace(answer, rows=rows)


def _nameless(answer: Suspects) -> Suspects:
    rows = tuple(
        replace(row, members=tuple(_unnamed(one) for one in row.members)) for row in answer.rows
    )
    return replace(answer, rows=rows)


def _unnamed(candidate: Candidate) -> Candidate:
    return replace(candidate, name="") if candidate.kind in NAMED_LATER else candidate


def _row(row: dict[str, Any]) -> SuspectRow:
    members = tuple(
        Candidate(**{**one, "at": _read_moment(one["at"])})
        for one in row.pop("members")
        if one["kind"] in KINDS  # people were candidates once
    )
    return SuspectRow(members=members, **row)


def _moment(value: Any) -> str:
    if isinstance(value, datetime):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no frozen form")


def _read_moment(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None
