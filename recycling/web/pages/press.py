"""One deed for one press: what the buttons of these pages share."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from recycling.records.actors import Actor
from recycling.services.once import once
from recycling.web.languages import in_language
from shared.codes import read_code
from shared.errors import Forbidden, Refused, Unknown

BESIDE = {"csrfmiddlewaretoken", "idempotency_key"}


def pressing(action: str) -> Callable[[Any], Any]:
    """Let only those press who may take the action; what does not exist is a page that is not."""

    def wrap(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @require_POST
        @wraps(view)
        def answer(request: HttpRequest, slug: str, **named: Any) -> HttpResponse:
            actor = request.actor  # type: ignore[attr-defined]
            if not actor.may(action):
                raise PermissionDenied
            if "code" in named:
                named["code"] = read_code(named["code"]) or named["code"]
            try:
                return view(request, actor, **named)
            except Unknown as missing:
                raise Http404(str(missing)) from missing
            except Forbidden as forbidden:
                raise PermissionDenied(str(forbidden)) from forbidden

        return answer

    return wrap


def done_once(request: HttpRequest, actor: Actor, deed: Callable[[Actor], Any]) -> Any:
    """Do a deed once for the form's key and return its answer; a repeat gets the same one."""
    key = request.POST.get("idempotency_key", "")
    sent = sorted((name, held) for name, held in request.POST.lists() if name not in BESIDE)
    fingerprint = hashlib.sha256(json.dumps([request.path, sent]).encode()).hexdigest()
    acting = replace(actor, key=key)

    def refuse(refused: Refused) -> tuple[int, str]:
        raise refused

    _, body = once(acting, key, fingerprint, lambda: (303, json.dumps(deed(acting))), refuse)
    return json.loads(body)


def say_refused(request: HttpRequest, refused: Refused) -> None:
    """Say on the next page why nothing was recorded."""
    for problem in refused.problems:
        messages.error(request, in_language(problem.detail))
