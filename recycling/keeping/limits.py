"""How often somebody without an account may do something, counted for all workers together.

A signed-in person's password, asked for once more; wrong ones are counted.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from math import ceil

from django.db import connection, transaction
from django.db.models import F
from django.utils import timezone

from recycling.models import Attempt, User
from recycling.queries.people.tokens import salted
from shared.errors import Refused, TooOften
from shared.said import say

WINDOW = timedelta(hours=1)
KEPT = timedelta(days=2)

_COUNT = """
INSERT INTO recycling_attempt (bucket, window_start, count) VALUES (%s, %s, 1)
ON CONFLICT (bucket, window_start) DO UPDATE SET count = recycling_attempt.count + 1
RETURNING count
"""


def _now(what: str, whose: str) -> tuple[datetime, str]:
    start = timezone.now().replace(minute=0, second=0, microsecond=0)
    return start, salted(f"{what} {whose}", start.date().isoformat())


def give_back(what: str, whose: str) -> None:
    """Take one try of this hour off again: it was right."""
    start, bucket = _now(what, whose)
    tries = Attempt.objects.filter(bucket=bucket, window_start=start, count__gt=0)
    tries.update(count=F("count") - 1)


def forget_turns(what: str, whose: str) -> None:
    """Forget the tries of this hour."""
    start, bucket = _now(what, whose)
    Attempt.objects.filter(bucket=bucket, window_start=start).delete()


def take_turn(what: str, whose: str, most: int) -> None:
    """Count a try within this hour; of an address only a hash salted for the day is kept.

    Commits by itself, so that a try that is refused later counts too.

    Raises
    ------
    TooOften
        When there were as many tries as are allowed.
    """
    now = timezone.now()
    start, bucket = _now(what, whose)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            _COUNT,
            [bucket, connection.ops.adapt_datetimefield_value(start)],
        )
        count = cursor.fetchone()[0]
        if count == 1:
            Attempt.objects.filter(window_start__lt=now - KEPT).delete()
    if count > most:
        wait = start + WINDOW - now
        raise TooOften.because(
            "too-often",
            say(
                "This was sent {most} times within the hour; try again in {wait}"
                " minutes. Nothing of it is lost here.",
                most=most,
                wait=ceil(wait / timedelta(minutes=1)),
            ),
        )


MOST_WRONG = 10
"""Wrong passwords within an hour, on whatever page, before it is no longer looked at."""
WHAT = "password again of"


def own_password(user: User, password: str) -> None:
    """Say whether this is a person's password; the try is counted before it is looked at.

    The count commits by itself, so call it outside a transaction that a refusal undoes.

    Raises
    ------
    TooOften
        When it was wrong too often within the hour.
    Refused
        When it is wrong.
    """
    whose = f"user {user.pk}"
    take_turn(WHAT, whose, MOST_WRONG)
    if not user.check_password(password):
        raise Refused.because("password-wrong", "This is not your password.", "/password")
    forget_turns(WHAT, whose)
