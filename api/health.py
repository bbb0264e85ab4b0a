"""Whether the service is alive, and whether it can serve."""

from __future__ import annotations

import functools
from collections.abc import Callable

import structlog
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_safe

from recycling.queries.integrity.book_state import try_writing

BROKER_TIMEOUT_S = 1
READY, MISSING, AWAY, READ_ONLY = "ready", "missing", "away", "read-only"
View = Callable[[HttpRequest], HttpResponse]
log = structlog.get_logger("api.health")


def without_book(probe: View) -> View:
    """Let a probe answer whatever the database does."""
    probe.without_book = True  # type: ignore[attr-defined]
    return probe


@without_book
@require_safe
def healthz(request: HttpRequest) -> JsonResponse:
    """Say that the process answers."""
    return JsonResponse({"status": "alive"})


@without_book
@require_safe
def readyz(request: HttpRequest) -> JsonResponse:
    """Say whether the book is whole and takes writing; without a broker jobs wait."""
    found = {**database_state(), "broker": broker_state()}
    ready = found["database"] == found["migrations"] == READY
    found["writing"] = writing_state() if ready else "unknown"
    ready = ready and found["writing"] in (READY, READ_ONLY)
    return JsonResponse({"ready": ready, **found}, status=200 if ready else 503)


def database_state() -> dict[str, str]:
    """Say whether the database answers and has every migration."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        return {"database": READY, "migrations": READY if migrated() else MISSING}
    except DatabaseError as error:
        log.warning("database away", error=repr(error))
        return {"database": AWAY, "migrations": "unknown"}


def writing_state() -> str:
    """Say whether the book takes writing; a server declared to be read-only is not asked to."""
    if settings.READ_ONLY:
        return READ_ONLY
    wrong = try_writing()
    if wrong:
        log.warning("book takes no writing", why=wrong)
    return wrong or READY


def migrated() -> bool:
    """Say whether every migration was run; once it was, that is remembered."""
    try:
        return _migrated()
    except LookupError:
        return False


@functools.cache
def _migrated() -> bool:
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise LookupError("migrations are missing")
    return True


forget = _migrated.cache_clear


def broker_state() -> str:
    """Say whether background jobs run in this process, or can be sent."""
    if not settings.REDIS_URL:
        return "in process"
    import redis

    client = redis.Redis.from_url(
        settings.REDIS_URL,
        socket_timeout=BROKER_TIMEOUT_S,
        socket_connect_timeout=BROKER_TIMEOUT_S,
    )
    try:
        client.ping()
    except redis.RedisError as error:
        log.warning("broker away", error=repr(error))
        return "away; jobs wait"
    finally:
        client.close()
    return READY
