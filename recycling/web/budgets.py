"""What one key, member or address may ask of the service: requests a minute, and their size.

The fields are those of draft-ietf-httpapi-ratelimit-headers: `RateLimit-Policy` says what a minute
has (`q`) and how long it is (`w`), `RateLimit` what is left (`r`) and when it begins anew (`t`).
"""

from __future__ import annotations

import ipaddress
from collections.abc import Callable
from dataclasses import asdict

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import Resolver404, resolve
from django.utils.translation import gettext as _

from recycling.budgets import WINDOW_S, Spent, hashed, spend
from recycling.web.addresses import address_of
from recycling.web.people.tablet_session import MEMBER, TABLET
from shared.errors import Problem

KEY, ADDRESS, WRONG = "key", "address", "wrong-keys"
FREE = ("/healthz", "/readyz")
LARGEST_REQUEST = 16 * 2**20
PROBLEM = "application/problem+json"
IPV6_NETWORK = 64


class BudgetMiddleware:
    """Answer 429 to whoever has spent a minute's requests, and say to all what is left."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path in FREE:
            return self.get_response(request)
        kind, whose = _whose(request)
        spent = spend(f"{kind} {whose}", settings.REQUESTS_A_MINUTE)
        if spent.over:
            return _told(_too_often(request), kind, spent)
        if _too_large(request):
            what = _("A request has up to 16 MiB. Send less at once, or a smaller file.")
            problem = Problem("body-too-large", what)
            return _told(_refusal(request, 413, _("Too large"), problem), kind, spent)
        answer = self.get_response(request)
        if kind == KEY and answer.status_code == 401:
            wrong = spend(f"{WRONG} {network_of(request)}", settings.WRONG_KEYS_A_MINUTE)
            if wrong.over:
                return _told(_too_often(request), WRONG, wrong)
        return _told(answer, kind, spent)


def _whose(request: HttpRequest) -> tuple[str, str]:
    """Say whose budget a request is on: its key's, its member's or tablet's, or its address's."""
    scheme, _space, secret = request.headers.get("Authorization", "").partition(" ")
    if scheme and request.path.startswith("/api/"):
        return KEY, hashed(secret.strip())
    if settings.SESSION_COOKIE_NAME in request.COOKIES:
        if request.user.is_authenticated:
            return "member", str(request.user.pk)
        tablet, member = request.session.get(TABLET), request.session.get(MEMBER)
        if tablet and member:
            return "member", f"{member} at tablet {tablet}"
    return ADDRESS, network_of(request)


def network_of(request: HttpRequest) -> str:
    """Give the sender's address; of IPv6 the network, since one sender has all of it."""
    sent = address_of(request)
    try:
        address = ipaddress.ip_address(sent)
    except ValueError:
        return sent
    if address.version == 4:
        return str(address)
    return str(ipaddress.ip_network(f"{address}/{IPV6_NETWORK}", strict=False))


def _too_large(request: HttpRequest) -> bool:
    """Say whether a body is beyond what its page takes; only files of energy are larger."""
    length = request.META.get("CONTENT_LENGTH") or ""
    if not length.isdigit() or int(length) <= LARGEST_REQUEST:
        return False
    try:
        view = resolve(request.path_info).func
    except Resolver404:
        return True
    return int(length) > getattr(view, "largest_request", LARGEST_REQUEST)


def _told(answer: HttpResponse, kind: str, spent: Spent) -> HttpResponse:
    answer["RateLimit-Policy"] = f'"{kind}";q={spent.most};w={WINDOW_S}'
    answer["RateLimit"] = f'"{kind}";r={spent.left};t={spent.reset_s}'
    if answer.status_code == 429:
        answer.headers.setdefault("Retry-After", str(spent.reset_s))
    return answer


def _too_often(request: HttpRequest) -> HttpResponse:
    what = _(
        "More was asked within a minute than one may ask. Wait until the minute is over, then send"
        " it again: nothing of it was recorded."
    )
    return _refusal(request, 429, _("Too often"), Problem("too-many-requests", what))


def _refusal(request: HttpRequest, status: int, title: str, problem: Problem) -> HttpResponse:
    if not request.path.startswith("/api/"):
        context = {"title": title, "what": problem.detail}
        return render(request, "failure.html", context, status=status)
    said = {
        "type": f"urn:regrind-ledger:problem:{problem.code}",
        "title": title,
        "status": status,
        "detail": problem.detail,
        "errors": [asdict(problem)],
        "more_errors": 0,
    }
    return JsonResponse(said, status=status, content_type=PROBLEM)
