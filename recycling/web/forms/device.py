"""What this device remembers between visits: the last machine and scale, cautions read today.

Kept in a signed cookie of the workshop's own addresses, so that it outlives a session; who worked
is kept in the session only, for a name is nobody's but the person's who signed in.
"""

from __future__ import annotations

import json
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from recycling.records.actors import Actor

COOKIE = "bench"
DAYS = 180
READ = "cautions"
OPERATORS = "operators"


def _kept(request: HttpRequest, actor: Actor) -> dict[str, Any]:
    text = request.get_signed_cookie(COOKIE, default="", salt=actor.slug, max_age=DAYS * 86_400)
    try:
        kept = json.loads(text or "{}")
    except ValueError:
        return {}
    return kept if isinstance(kept, dict) else {}


def _today() -> str:
    return timezone.localdate().isoformat()


def remembered(request: HttpRequest, actor: Actor, names: tuple[str, ...]) -> dict[str, Any]:
    """Give what was chosen last in these fields on this device."""
    kept = _kept(request, actor)
    values = {name: kept[name] for name in names if kept.get(name)}
    workers = request.session.get("workers", {}).get(actor.slug, [])
    if OPERATORS in names and actor.name in workers:
        values[OPERATORS] = workers
    return values


def cautions_read(request: HttpRequest, actor: Actor, stage: str) -> bool:
    """Whether a stage was recorded on this device today, its cautions in full before it."""
    return _kept(request, actor).get(READ, {}).get(stage) == _today()


def remember(
    request: HttpRequest, answer: HttpResponse, actor: Actor, names: tuple[str, ...], stage: str
) -> None:
    """Keep on this device what was chosen, and that the cautions of a stage were shown today."""
    kept, sent = _kept(request, actor), request.POST
    chosen = {name: sent[name] for name in names if name in sent and name != OPERATORS}
    read = {key: day for key, day in kept.get(READ, {}).items() if day == _today()}
    if stage:
        read[stage] = _today()
    if OPERATORS in names and sent.getlist(OPERATORS):
        workers = {**request.session.get("workers", {}), actor.slug: sent.getlist(OPERATORS)}
        request.session["workers"] = workers
    after = {**kept, **chosen, READ: read}
    if after == kept:
        return
    answer.set_signed_cookie(
        COOKIE,
        json.dumps(after),
        salt=actor.slug,
        max_age=DAYS * 86_400,
        path=f"/w/{actor.slug}/",
        secure=request.is_secure(),
        httponly=True,
        samesite="Lax",
    )
