"""What declared checks say of one product, from all that was noted of it up to a moment."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from recycling.calc.quality.judging import (
    Answer,
    Judged,
    Limits,
    Why,
    all_inside,
    mean_inside,
    share_inside,
)
from recycling.queries.quality.declared import holding
from recycling.records.quality.declared import (
    DIAMETER,
    LARGEST,
    OVALITY,
    SHARE,
    VERDICT,
    CheckAnswer,
    DeclaredRow,
    ProductState,
)
from shared.said import say

SURE_SHARE, SURE = 90.0, 80.0


@dataclass(frozen=True)
class Readings:
    """Diameters that were read at once, along one axis or two, mm."""

    measured_at: datetime
    first_mm: Sequence[float]
    second_mm: Sequence[float]


@dataclass(frozen=True)
class Said:
    """What a user said: bad or good, and from when until when it stood; until is None for now."""

    good: bool
    given_at: datetime
    counted_at: datetime | None
    answered_at: datetime | None


@dataclass
class Noted:
    """All that was noted of a product."""

    form: str
    polymer: str
    made_at: datetime
    nominal_mm: float | None = None
    tolerance_mm: float | None = None
    readings: list[Readings] = field(default_factory=list)
    said: list[Said] = field(default_factory=list)
    second_choice: str = ""

    def moments(self) -> Iterator[datetime]:
        """Give when each fact was noted."""
        yield self.made_at
        yield from (one.measured_at for one in self.readings)
        for one in self.said:
            yield from (at for at in (one.given_at, one.counted_at, one.answered_at) if at)


@dataclass(frozen=True)
class Gauge:
    """The hand gauge: error that 95 % of readings keep, and step, mm."""

    u_mm: float
    step_mm: float


def judge(
    noted: Noted, rows: Sequence[DeclaredRow], gauge: Gauge, moment: datetime
) -> ProductState:
    """Say what a product was at a moment: failed, passed, or not judged and what is missing."""
    asked, edition = holding(rows, noted.form, noted.polymer, noted.made_at)
    answers = tuple(_answer(noted, one, gauge, moment) for one in asked)
    needed = [one for one in answers if one.needed]
    missing = tuple(one.reason for one in needed if one.answer == Answer.NOT_JUDGED)
    if not needed:
        missing = (say("No check is declared that {form} needs.", form=noted.form),)
    if any(one.answer == Answer.FAILED for one in needed):
        state = Answer.FAILED
    elif needed and all(one.answer == Answer.PASSED for one in needed):
        state = Answer.PASSED
    else:
        state = Answer.NOT_JUDGED
    newest = max(one for one in noted.moments() if one <= moment or one == noted.made_at)
    return ProductState(state, edition, newest, answers, missing, noted.second_choice)


def _answer(noted: Noted, asked: DeclaredRow, gauge: Gauge, moment: datetime) -> CheckAnswer:
    if asked.quantity == VERDICT:
        return _of_results(noted, asked, moment)
    found = [one for one in noted.readings if one.measured_at <= moment]
    measured = [(one.measured_at, values) for one in found if (values := _values(asked, one))]
    limits = _limits(noted, asked, gauge)
    if not measured or limits is None:
        reason = _no_reading(asked, bool(found), limits is None)
        return _said(asked, Answer.NOT_JUDGED, reason)
    judged = [_judged(asked, values, limits) for _, values in measured]
    at, values = measured[-1]
    answer = judged[-1].answer
    return _said(
        asked,
        answer,
        _reason(asked, judged[-1], len(values)),
        readings=len(values),
        low=limits.low,
        high=limits.high,
        least_seen=min(values),
        most_seen=max(values),
        mean_seen=sum(values) / len(values),
        measured_at=at,
        earlier=tuple(str(one.answer) for one in judged[-2::-1]),
    )


def _said(asked: DeclaredRow, answer: Answer, reason: str, **seen: object) -> CheckAnswer:
    return CheckAnswer(
        asked.quantity,
        asked.label,
        asked.unit,
        str(answer),
        reason,
        asked.needed,
        asked.defect,
        asked.edition,
        **seen,  # type: ignore[arg-type]
    )


def _values(asked: DeclaredRow, one: Readings) -> list[float]:
    if asked.quantity == OVALITY:
        return [abs(a - b) for a, b in zip(one.first_mm, one.second_mm, strict=False)]
    return [*one.first_mm, *one.second_mm]


def _limits(noted: Noted, asked: DeclaredRow, gauge: Gauge) -> Limits | None:
    """Lay out the limits in mm; None where they rest on something that is not known."""
    low, high = asked.low, asked.high
    if asked.quantity in (DIAMETER, LARGEST):
        if noted.nominal_mm is None:
            return None
        if asked.quantity == DIAMETER and low is None and high is None:
            if noted.tolerance_mm is None:
                return None
            low, high = -noted.tolerance_mm, noted.tolerance_mm
        low = None if low is None else noted.nominal_mm + low
        high = None if high is None else noted.nominal_mm + high
    return Limits(low, high, gauge.u_mm, gauge.step_mm)


def _judged(asked: DeclaredRow, values: Sequence[float], limits: Limits) -> Judged:
    if asked.rule == SHARE:
        share, sure = asked.share_percent or SURE_SHARE, asked.sure_percent or SURE
        return share_inside(values, limits, asked.least, share / 100, sure / 100)
    judges = all_inside if asked.rule == "all" else mean_inside
    return judges(values, limits, asked.least)


def _no_reading(asked: DeclaredRow, measured: bool, no_limits: bool) -> str:
    if measured and no_limits or asked.quantity == DIAMETER and no_limits:
        return say(
            "{check}: enter the tolerance of the spool or declare limits.", check=say(asked.label)
        )
    if measured and asked.quantity == OVALITY:
        return say("{check}: measure along two axes.", check=say(asked.label))
    if asked.least == 1:
        return say("{check}: nothing was measured yet.", check=say(asked.label))
    return say(
        "{check}: nothing was measured yet. Take at least {least} readings.",
        check=say(asked.label),
        least=asked.least,
    )


def _reason(asked: DeclaredRow, judged: Judged, readings: int) -> str:
    if judged.why is Why.TOO_FEW:
        return say(
            "{check}: {readings} readings are too few. At least {more} more are needed.",
            check=say(asked.label),
            readings=readings,
            more=judged.more,
        )
    if judged.why is Why.NOT_SURE:
        return say(
            "{check}: so near the limits this gauge cannot decide.",
            check=say(asked.label),
        )
    if judged.answer is Answer.FAILED:
        return say("{check}: outside the limits.", check=say(asked.label))
    if asked.rule == SHARE:
        return say(
            "{check}: at least {share} % inside, {sure:g} % sure.",
            check=say(asked.label),
            share=int(judged.share * 100 + 1e-9),
            sure=asked.sure_percent or SURE,
        )
    return say("{check}: inside the limits.", check=say(asked.label))


def _of_results(noted: Noted, asked: DeclaredRow, moment: datetime) -> CheckAnswer:
    """A bad result stands from when it counts until it is answered; one that waits leaves open."""
    bad = [
        one
        for one in noted.said
        if not one.good
        and one.given_at <= moment
        and (one.answered_at is None or one.answered_at > moment)
    ]
    standing = [one for one in bad if one.counted_at is not None and one.counted_at <= moment]
    if standing:
        reason = say(
            "{check}: {number} stand unanswered.", check=say(asked.label), number=len(standing)
        )
        return _said(asked, Answer.FAILED, reason, readings=len(standing))
    if bad:
        reason = say("{check}: one waits to be checked.", check=say(asked.label))
        return _said(asked, Answer.NOT_JUDGED, reason, readings=len(bad))
    return _said(asked, Answer.PASSED, say("{check}: none stands.", check=say(asked.label)))
