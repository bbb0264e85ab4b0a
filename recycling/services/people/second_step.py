"""Second steps at sign-in: a code of an app on one's phone, after the password.

Each code is taken once; tries are counted before they are looked at, as passwords are. Setting
one up, using a recovery code, wrong codes and turning it off are in the history of each workshop
of the person.
"""

from __future__ import annotations

import secrets
from functools import partial

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.utils import timezone

from recycling.calc.people import DIGITS, steps_of
from recycling.keeping.deed import refuse_read_only, retried
from recycling.keeping.limits import forget_turns, own_password, take_turn
from recycling.models import ChangeEvent, Member, RecoveryCode, SecondStep, UserSession
from recycling.queries.people.second_step import secret_of
from shared.errors import Refused, TooOften, Unknown

MOST_WRONG = 10
"""Wrong codes within an hour before none is looked at, wherever they come from."""
WHAT = "second step of"
RECOVERY_CODES, RECOVERY_DIGITS = 10, 12
"""The first digit of a recovery code is its number; the others are 36 random bits, kept as
passwords are (OWASP ASVS 5.0, 6.5.2 and 6.5.3)."""
BETWEEN = " -\u00a0\u202f"
"""Signs that people type between digits."""
POINTER = "/one_time"


def second_step_confirm(user_id: int, seed: str, code: str, here: str) -> tuple[str, ...]:
    """Turn a second step on by a code of the app that was told its secret; give recovery codes.

    Sessions that began with the password alone end, but for the one here (OWASP ASVS 5.0, 7.4.3).

    Raises
    ------
    TooOften
        When codes were wrong too often within the hour.
    Refused
        When the code is none or not right, or a second step is on already.
    """
    refuse_read_only()
    digits = _digits(code)
    _take(user_id)
    steps = steps_of(secret_of(seed), digits, timezone.now().timestamp())
    if not steps:
        raise Refused.because(
            "one-time-wrong",
            "This code is not right. Check that the clock of your phone is, and type the code that"
            " the app shows now.",
            POINTER,
        )
    codes = retried(partial(_turn_on, user_id, seed, max(steps), here))
    forget_turns(WHAT, str(user_id))
    return codes


@transaction.atomic
def _turn_on(user_id: int, seed: str, step: int, here: str) -> tuple[str, ...]:
    row, is_new = SecondStep.objects.get_or_create(
        user_id=user_id,
        defaults={"seed": seed, "since_at": timezone.now(), "last_step": step},
    )
    if not is_new:
        raise Refused.because("second-step-on", "Your second step is on already.")
    UserSession.objects.filter(user_id=user_id).exclude(session_key=here).delete()
    _note(user_id, "second step on")
    return _new_codes(row)


def _new_codes(row: SecondStep) -> tuple[str, ...]:
    """Keep new recovery codes instead of those before; return them as they are shown, once."""
    RecoveryCode.objects.filter(second_step=row).delete()
    length = RECOVERY_DIGITS - 1
    codes = [f"{n}{secrets.randbelow(10**length):0{length}d}" for n in range(RECOVERY_CODES)]
    RecoveryCode.objects.bulk_create(
        RecoveryCode(second_step=row, number=number, digest=make_password(code))
        for number, code in enumerate(codes)
    )
    return tuple(" ".join((code[:4], code[4:8], code[8:])) for code in codes)


def second_step_pass(user_id: int, code: str) -> int | None:
    """Check a code after the password; where it was a recovery code, return how many are left.

    Who has no second step any more passes without one.

    Raises
    ------
    TooOften
        When codes were wrong too often within the hour.
    Refused
        When the code is none, not right, or was used.
    Unavailable
        When nothing can be written.
    """
    refuse_read_only()
    row = SecondStep.objects.filter(user_id=user_id).first()
    return None if row is None else _check(row, code)


def second_step_off(user_id: int, password: str, code: str) -> None:
    """Turn one's own second step off, by the password and a code.

    Raises
    ------
    TooOften
        When either was wrong too often within the hour.
    Refused
        When either is wrong.
    Unknown
        When no second step is on.
    """
    row = _proved(user_id, password, code)
    retried(partial(_drop, row, "second step off"))


def recovery_codes_renew(user_id: int, password: str, code: str) -> tuple[str, ...]:
    """Make ten new recovery codes, by the password and a code; those before count no more.

    Raises
    ------
    TooOften
        When either was wrong too often within the hour.
    Refused
        When either is wrong.
    Unknown
        When no second step is on.
    """
    row = _proved(user_id, password, code)
    return retried(partial(_renew, row))


def second_step_lift(username: str) -> None:
    """Turn the second step of a sign-in name off, for whoever keeps the server.

    Raises
    ------
    Unknown
        When there is none.
    """
    row = SecondStep.objects.filter(user__username=username).first()
    if row is None:
        raise _none()
    retried(partial(_drop, row, "second step lifted"))


def _none() -> Unknown:
    return Unknown.because("second-step-unknown", "There is no second step to turn off.")


def _proved(user_id: int, password: str, code: str) -> SecondStep:
    refuse_read_only()
    row = SecondStep.objects.select_related("user").filter(user_id=user_id).first()
    if row is None:
        raise _none()
    own_password(row.user, password)
    _check(row, code)
    return row


def _digits(code: str) -> str:
    digits = "".join(sign for sign in code[:80] if sign not in BETWEEN)
    good = digits.isascii() and digits.isdigit()
    if not good or len(digits) not in (DIGITS, RECOVERY_DIGITS):
        raise Refused.because(
            "one-time-unreadable",
            "Type the six digits that the app shows now, or the twelve of a recovery code.",
            POINTER,
        )
    return digits


def _take(user_id: int) -> None:
    try:
        retried(lambda: take_turn(WHAT, str(user_id), MOST_WRONG))
    except TooOften as often:
        raise TooOften.because(
            "one-time-locked",
            "Codes were wrong too often. Wait up to an hour. If it was not you, somebody knows your"
            " password: ask a lead for a new one.",
            POINTER,
        ) from often


def _check(row: SecondStep, code: str) -> int | None:
    """Use a code up, or refuse it; the try is counted before it is looked at."""
    digits = _digits(code)
    _take(row.pk)
    if len(digits) == DIGITS:
        left = retried(partial(_use_code, row, digits))
    else:
        left = retried(partial(_use_recovery_code, row, digits))
    forget_turns(WHAT, str(row.pk))
    return left


def _use_code(row: SecondStep, digits: str) -> None:
    steps = steps_of(secret_of(row.seed), digits, timezone.now().timestamp())
    for step in steps:
        fresh = SecondStep.objects.filter(pk=row.pk, last_step__lt=step)
        if fresh.update(last_step=step):
            return
    if steps:
        raise Refused.because(
            "one-time-used",
            "This code was used already. Wait until the app shows the next.",
            POINTER,
        )
    raise _wrong(row)


@transaction.atomic
def _use(row: SecondStep, kept: RecoveryCode) -> bool:
    fresh = RecoveryCode.objects.filter(pk=kept.pk, used_at=None)
    if not fresh.update(used_at=timezone.now()):
        return False
    _note(row.pk, "recovery code used")
    return True


def _use_recovery_code(row: SecondStep, digits: str) -> int:
    codes = RecoveryCode.objects.filter(second_step=row)
    kept = codes.filter(number=int(digits[0])).first()
    if not check_password(digits, kept.digest if kept else make_password("0")) or kept is None:
        raise _wrong(row)
    if not _use(row, kept):
        raise Refused.because(
            "one-time-used", "This recovery code was used already. Take another.", POINTER
        )
    return codes.filter(used_at=None).count()


def _wrong(row: SecondStep) -> Refused:
    _note(row.pk, "wrong code", by_them=False)
    return Refused.because(
        "one-time-wrong", "This code is not right. Type the one that the app shows now.", POINTER
    )


@transaction.atomic
def _drop(row: SecondStep, deed: str) -> None:
    user_id = row.pk
    if not SecondStep.objects.filter(pk=user_id).delete()[0]:
        raise _none()
    _note(user_id, deed, by_them=deed == "second step off")


@transaction.atomic
def _renew(row: SecondStep) -> tuple[str, ...]:
    _note(row.pk, "recovery codes renewed")
    return _new_codes(row)


def _note(user_id: int, deed: str, by_them: bool = True) -> None:
    """Keep in the history of each workshop of a person what became of their second step."""
    here = Member.objects.filter(user_id=user_id, left_at=None)
    ChangeEvent.objects.bulk_create(
        ChangeEvent(
            workshop_id=one.workshop_id,
            subject=f"member {one.pk}",
            deed=deed,
            written_at=timezone.now(),
            actor=one.reference if by_them else None,
        )
        for one in here
    )
