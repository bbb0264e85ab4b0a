"""What every recording page shares: who may, one deed a key, refusals at their fields."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import wraps
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from recycling.records.actors import Actor
from recycling.services.once import once
from recycling.services.rehearsal import rehearse
from recycling.web.forms.beside import CARRIED, SECRETS
from recycling.web.forms.device import cautions_read, remember, remembered
from recycling.web.forms.doubted import put_instead, said_right, shown_doubts
from recycling.web.forms.forms import MADE_AT, EntryForm, Part
from recycling.web.forms.saying import Saved
from recycling.web.forms.saying import Step as Step
from recycling.web.pages.find import not_a_code
from shared.codes import read_code
from shared.errors import Forbidden, Problem, Refused, Unknown

BESIDE_THE_ENTRY = {*CARRIED, *SECRETS}
MAY_WAIT = {"record", "verdict"}
"""Actions whose entries may wait on a device until there is a network; others are for now."""
KEPT_ANSWERS = 12

View = Callable[..., HttpResponse]


@dataclass
class Sheet:
    """A page that records: its form, the one deed behind it, and what is said after.

    Attributes
    ----------
    title, button : str
        Heading and main button.
    parts : list of Part
        What the form is made of.
    deed : callable
        Takes the actor and the form's values, makes one call, returns its result.
    saved : callable
        Says what the result and what was typed mean.
    review : callable or None
        Gives the context of a page between the form and the deed, from a rehearsal.
    asks_only : bool
        Whether that page is shown only where something is to be asked.
    context : dict
        What else the page shows.
    remember : tuple of str
        Names of fields whose values this device proposes next time.
    stage : str
        Key of the stage whose cautions stand before the form.
    back : str
        Address of the live page that a short note leads straight back to.
    secret : callable or None
        Reads from the result what is shown this once and kept nowhere.
    repeatable : bool
        Whether the deed keeps no key: it counts tries, which a refusal must not undo, and done
        twice it has done no more.
    """

    title: str
    button: str
    parts: list[Part]
    deed: Callable[[Actor, Mapping[str, Any]], Any]
    saved: Callable[[Any, Mapping[str, Any]], Saved]
    review: Callable[[Any, Mapping[str, Any]], dict[str, Any]] | None = None
    initial: dict[str, Any] = field(default_factory=dict)
    context: dict[str, Any] = field(default_factory=dict)
    remember: tuple[str, ...] = ()
    asks_only: bool = False
    secret: Callable[[Any], str] | None = None
    repeatable: bool = False
    template: str = "forms/sheet.html"
    nav: str = "record"
    stage: str = ""
    back: str = ""


def recording(action: str) -> Callable[[View], View]:
    """Let only those in who may take the action; read codes in capitals or not."""

    def wrap(view: View) -> View:
        @require_http_methods(["GET", "HEAD", "POST"])
        @wraps(view)
        def answer(request: HttpRequest, slug: str, **named: Any) -> HttpResponse:
            if not request.actor.may(action):  # type: ignore[attr-defined]
                raise PermissionDenied
            request.may_wait = action in MAY_WAIT  # type: ignore[attr-defined]
            if "code" in named:
                code = read_code(named["code"])
                if code is None:
                    return not_a_code(request, named["code"])
                named["code"] = code
            try:
                return view(request, request.actor, **named)  # type: ignore[attr-defined]
            except Unknown as missing:
                raise Http404(str(missing)) from missing
            except Forbidden as forbidden:
                raise PermissionDenied(str(forbidden)) from forbidden

        return answer

    return wrap


def enter(request: HttpRequest, actor: Actor, sheet: Sheet) -> HttpResponse:
    """Show the form; when it was sent, review or record it, or show what is wrong with it."""
    if request.method != "POST":
        initial = sheet.initial | remembered(request, actor, sheet.remember)
        return _show(request, sheet, EntryForm(None, sheet.parts, initial=initial))
    put_instead(request)
    step = request.POST.get("step", "")
    if request.POST.get("more") or step == "change":
        return _show(request, sheet, EntryForm(request.POST, sheet.parts, quiet=True))
    form = EntryForm(request.POST, sheet.parts)
    if not form.is_valid():
        return _show(request, sheet, form, 422)
    try:
        if sheet.review and step != "record":
            return _review(request, actor, sheet, form)
        return _record(request, actor, sheet, form)
    except Refused as refused:
        if isinstance(refused, Forbidden) or _page_is_gone(refused):
            raise
        return _refused(request, sheet, form, refused)


def _page_is_gone(refused: Refused) -> bool:
    return isinstance(refused, Unknown) and not any(one.pointer for one in refused.problems)


def _refused(request: HttpRequest, sheet: Sheet, form: EntryForm, why: Refused) -> HttpResponse:
    status = 422 if isinstance(why, Unknown) else why.status
    reused = any(problem.code == "key-reused" for problem in why.problems)
    if not reused:
        form.add_problems(why.problems)
        answer = _show(request, sheet, form, status)
        if any(problem.code == "key-running" for problem in why.problems):
            answer["Retry-After"] = "1"
        return answer
    detail = _(
        "This page was recorded before with other figures; that entry stands. To put a figure"
        " right, correct it there. Sending this page again records it as a second entry."
    )
    form.add_problems([Problem("key-reused", detail)])
    return _show(request, sheet, form, 409, key="")


def _review(request: HttpRequest, actor: Actor, sheet: Sheet, form: EntryForm) -> HttpResponse:
    assert sheet.review is not None
    acting = replace(actor, confirmed=said_right(request, form))
    result = rehearse(lambda: sheet.deed(acting, form.values))
    if sheet.asks_only and not result.doubts:
        return _record(request, actor, sheet, form)
    kept = [
        (name, value)
        for name, values in request.POST.lists()
        if name not in BESIDE_THE_ENTRY
        for value in values
    ]
    shown = {
        "title": sheet.title,
        "nav": sheet.nav,
        "kept": kept,
        "key": request.POST.get("idempotency_key", ""),
        "made_at": request.POST.get(MADE_AT, ""),
        "may_wait": request.may_wait,  # type: ignore[attr-defined]
        **sheet.context,
        **sheet.review(result, form.values),
    }
    shown["doubts"] = shown_doubts(form, shown.get("doubts", ()))
    return render(request, "forms/review.html", shown)


def _record(request: HttpRequest, actor: Actor, sheet: Sheet, form: EntryForm) -> HttpResponse:
    key = request.POST.get("idempotency_key", "")
    acting, secrets = replace(actor, key=key, confirmed=said_right(request, form)), []

    def deed() -> tuple[int, str]:
        result = sheet.deed(acting, form.values)
        if sheet.secret:
            secrets.append(sheet.secret(result))
        return 303, json.dumps(asdict(sheet.saved(result, form.values)))

    def keep_no_refusal(refused: Refused) -> tuple[int, str]:
        raise refused

    if sheet.repeatable:
        _status, body = deed()
    else:
        _status, body = once(acting, key, _fingerprint(request), deed, keep_no_refusal)
    said = json.loads(body)
    if secrets:
        return _shown_once(request, sheet, said, secrets[0])
    if sheet.back and request.POST.get("back"):
        messages.success(request, said["text"])
        answer = redirect(sheet.back)
    else:
        answer = say_saved(request, actor, key, said)
    remember(request, answer, actor, sheet.remember, sheet.stage)
    return answer


def _fingerprint(request: HttpRequest) -> str:
    sent = sorted(
        (name, values) for name, values in request.POST.lists() if name not in BESIDE_THE_ENTRY
    )
    secrets = [request.POST[name] for name in SECRETS if name in request.POST]
    if secrets:  # another password under the same key is another entry; nobody can try them out
        sent.append(("secrets", [salted_hmac("entry", json.dumps(secrets)).hexdigest()]))
    return hashlib.sha256(json.dumps([request.path, sent]).encode()).hexdigest()


def say_saved(
    request: HttpRequest, actor: Actor, key: str, saved: dict[str, Any]
) -> HttpResponseRedirect:
    """Lead to the page that says what was recorded; the same for a repeat."""
    token = hashlib.sha256(key.encode()).hexdigest()[:16]
    answers = request.session.get("recorded", {})
    answers.pop(token, None)
    kept = list(answers.items())[1 - KEPT_ANSWERS :]
    request.session["recorded"] = {**dict(kept), token: {**saved, "workshop": actor.slug}}
    return redirect(reverse("recorded", args=[actor.slug, token]))


@recording("read")
def recorded(request: HttpRequest, actor: Actor, token: str) -> HttpResponse:
    saved = request.session.get("recorded", {}).get(token)
    if saved is None or saved["workshop"] != actor.slug:
        return redirect(reverse("record", args=[actor.slug]))
    shown = {"saved": saved, "nav": "record", "undo_key": f"undo-{token}"}
    return render(request, "forms/saved.html", shown)


def _shown_once(
    request: HttpRequest, sheet: Sheet, saved: dict[str, Any], secret: str
) -> HttpResponse:
    shown = {"saved": saved, "secret": secret, "nav": sheet.nav}
    answer = render(request, "forms/saved.html", shown)
    answer["Cache-Control"] = "no-store"
    return answer


def _show(
    request: HttpRequest, sheet: Sheet, form: EntryForm, status: int = 200, key: str | None = None
) -> HttpResponse:
    if key is None:
        key = request.POST.get("idempotency_key", "")
    shown = {
        "title": sheet.title,
        "button": sheet.button,
        "form": form,
        "nav": sheet.nav,
        "key": key or f"page-{uuid.uuid4().hex}",
        "reviewed": sheet.review is not None,
        "cautions_read": _cautions_read(request, sheet),
        "made_at": request.POST.get(MADE_AT, ""),
        "may_wait": sheet.secret is None and getattr(request, "may_wait", False),
        **sheet.context,
    }
    return render(request, sheet.template, shown, status=status)


def _cautions_read(request: HttpRequest, sheet: Sheet) -> bool:
    actor: Actor = request.actor  # type: ignore[attr-defined]
    return bool(sheet.stage) and cautions_read(request, actor, sheet.stage)


def set_up_crumbs(actor: Actor, title: str) -> list[tuple[str, str]]:
    return [(_("Workshop"), reverse("set-up", args=[actor.slug])), (title, "")]
