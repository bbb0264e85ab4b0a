"""How many requests somebody may send in a minute, counted for all processes together.

Counts are kept beside the book, never in it: in Redis where there is one, else in a file that the
processes of a host share. Both count every request of a minute of the clock exactly; whoever sends
a whole budget at its end and another at the start of the next is let through with both. Without
Redis each host counts for itself; where Redis is away, so it is until it is back. Nothing but the
first eight bytes of a salted hash is kept of a key, a member or an address, for a minute or two.
"""

from __future__ import annotations

import fcntl
import hashlib
import hmac
import mmap
import os
import struct
import threading
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import structlog
from django.conf import settings

WINDOW_S = 60
SLOTS, PROBED = 1 << 15, 8
"""Counters of the file, and how many are looked at for one subject before the least is taken."""
SLOT = struct.Struct("<8sII")
REDIS_TIMEOUT_S, REDIS_REST_S = 0.25, 10
log = structlog.get_logger("recycling.budgets")


@dataclass(frozen=True)
class Spent:
    """What is spent of a budget.

    Attributes
    ----------
    most, count : int
        Requests that a minute has, and that were sent within this one.
    reset_s : int
        Seconds until the next minute begins.
    """

    most: int
    count: int
    reset_s: int

    @property
    def left(self) -> int:
        """Requests that may still be sent in this minute."""
        return max(self.most - self.count, 0)

    @property
    def over(self) -> bool:
        """Whether more was sent than the minute has."""
        return self.count > self.most


def spend(subject: str, most: int, requests: int = 1) -> Spent:
    """Count requests of a subject in this minute; with none, only look."""
    now = time.time()
    window = int(now // WINDOW_S)
    tag = hmac.digest(settings.SECRET_KEY.encode(), subject.encode(), "sha256")[:8]
    count = _in_redis(tag, window, requests) if settings.REDIS_URL else None
    if count is None:
        count = _file(str(settings.DATA_DIR)).add(tag, window, requests)
    return Spent(most, count, max(1, WINDOW_S - int(now % WINDOW_S)))


class CounterFile:
    """Counters in a file of fixed size that processes map; a lock makes each addition whole."""

    def __init__(self, path: Path):
        path.parent.mkdir(parents=True, exist_ok=True)
        self._held = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        size = SLOTS * SLOT.size
        if os.fstat(self._held).st_size < size:
            os.ftruncate(self._held, size)
        self._slots = mmap.mmap(self._held, size)
        self._one = threading.Lock()
        self._pid = os.getpid()

    def add(self, tag: bytes, window: int, requests: int) -> int:
        """Add requests to the counter of a tag in a window; return its count."""
        first = int.from_bytes(tag[:4], "little") % SLOTS
        places = [(first + step) % SLOTS * SLOT.size for step in range(PROBED)]
        with self._one:
            fcntl.lockf(self._held, fcntl.LOCK_EX)
            try:
                place, count = self._found(places, tag, window)
                count = min(count + requests, 2**32 - 1)
                if requests:
                    SLOT.pack_into(self._slots, place, tag, window, count)
                return count
            finally:
                fcntl.lockf(self._held, fcntl.LOCK_UN)

    def _found(self, places: list[int], tag: bytes, window: int) -> tuple[int, int]:
        """Find a tag's own slot, else one whose window is over, else the one with least in it."""
        least, fewest = places[0], -1
        for place in places:
            whose, when, count = SLOT.unpack_from(self._slots, place)
            live = count if when == window else 0
            if whose == tag:
                return place, live
            if fewest < 0 or live < fewest:
                least, fewest = place, live
        return least, 0


@cache
def _file(folder: str) -> CounterFile:
    return CounterFile(Path(folder) / "budgets")


@cache
def _redis(url: str) -> Any:
    import redis
    from redis.maint_notifications import MaintNotificationsConfig

    wait = {"socket_timeout": REDIS_TIMEOUT_S, "socket_connect_timeout": REDIS_TIMEOUT_S}
    quiet = MaintNotificationsConfig(enabled=False)  # else each connection asks once more
    return redis.Redis.from_url(url, maint_notifications_config=quiet, **wait)


_rests_until = 0.0


def _in_redis(tag: bytes, window: int, requests: int) -> int | None:
    """Count in Redis; None where it is away, which is asked again after a while."""
    global _rests_until
    if time.monotonic() < _rests_until:
        return None
    import redis

    name = f"budget:{tag.hex()}:{window}"
    try:
        with _redis(settings.REDIS_URL).pipeline(transaction=False) as asked:
            asked.incrby(name, requests)
            asked.expire(name, 2 * WINDOW_S)
            return int(asked.execute()[0])
    except (redis.RedisError, OSError, ValueError) as error:  # ValueError: its reader was closed
        _rests_until = time.monotonic() + REDIS_REST_S
        log.warning("budgets are counted on this host alone", error=repr(error))
        return None


def hashed(secret: str) -> str:
    """Name a secret without it."""
    return hashlib.sha256(secret.encode()).hexdigest()
