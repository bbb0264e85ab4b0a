"""What every door of the API does: agree on a form, read, make one call, answer."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType, SimpleNamespace
from typing import Any, ClassVar, get_type_hints
from urllib.parse import urlencode

from django.http import HttpResponse, HttpResponseBase
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.views import APIView

from api.protocol import rows
from api.protocol.answers import as_json, page_of, shown
from api.protocol.asking import Ask, asked
from api.protocol.authentication import actor_of
from api.protocol.description import JSON, DoorSchema, describe_deed, describe_reading
from api.protocol.entries import read_entry
from api.protocol.parsing import StrictJSONParser, canonical
from api.protocol.pointers import begun_anew, place_in, pointed
from api.protocol.problems import MEDIA_TYPE, BadRequest, Stale, nothing_here, problem_json
from api.protocol.several import places_in, read_entries
from recycling.records.actors import Actor
from recycling.records.paging import Page
from recycling.services.once import Rendered, once
from shared.errors import Refused
from shared.said import say

LONGEST_KEY = 200
LONGEST_CODE = 40
LARGEST_ID = 2**63 - 1
AS_IT_IS: Mapping[str, str] = MappingProxyType({})


class ByAcceptHeader(DefaultContentNegotiation):
    settings = SimpleNamespace(URL_FORMAT_OVERRIDE=None)  # type: ignore[assignment]


class Door(APIView):
    """An address; what a method needs stands in `needs`, what it takes and gives at the method."""

    http_method_names = ["get", "head", "post"]
    needs: ClassVar[Mapping[str, str]] = {}
    parser_classes = (StrictJSONParser,)
    content_negotiation_class = ByAcceptHeader
    schema = DoorSchema()

    def initial(self, request: Request, *args: Any, **path: Any) -> None:
        super().initial(request, *args, **path)
        for value in path.values():
            if isinstance(value, int) and value > LARGEST_ID:
                raise nothing_here()
            if isinstance(value, str) and not (value.isprintable() and len(value) <= LONGEST_CODE):
                raise nothing_here()

    def get_renderers(self) -> list[BaseRenderer]:
        reading = self.request.method in ("GET", "HEAD")
        tabular = reading and hasattr(getattr(self, "get", None), "rows")
        return [renderer() for renderer in (rows.RENDERERS if tabular else (JSONRenderer,))]

    def finalize_response(  # type: ignore[override]
        self, request: Request, response: Any, *args: Any, **path: Any
    ) -> HttpResponseBase:
        self.headers["Vary"] = "Accept, Authorization, Cookie, X-Workshop"
        response.headers.setdefault("Cache-Control", "private, no-cache")
        return super().finalize_response(request, response, *args, **path)


def lists(row: type, *asks: Ask) -> Callable[[Any], Any]:
    """Make a door's method that lists rows, as JSON or CSV, page by page where it is paged."""

    def wrap(query: Callable[..., Any]) -> Any:
        @describe_reading(page_of(row), asks, rows=True, tagged=False)
        @functools.wraps(query)
        def get(self: Door, request: Request, **path: Any) -> HttpResponse:
            found = query(self, actor_of(request), **path, **asked(request, asks))
            page = found if isinstance(found, Page) else Page(tuple(found))
            if _wants_csv(request):
                response = _as_csv(page.rows)
            else:
                response = _as_json({"rows": shown(page.rows), "next": page.next})
            if page.next:
                query_text = urlencode({**request.query_params.dict(), "after": page.next})
                response["Link"] = f'<{request.path}?{query_text}>; rel="next"'
            return response

        get.rows = True
        return get

    return wrap


def shows(
    record: type, *asks: Ask, rows_of: Callable[[Any], Any] | None = None, tagged: bool = False
) -> Callable[[Any], Any]:
    """Make a door's method that shows one record; `rows_of` says what its CSV has."""

    def wrap(query: Callable[..., Any]) -> Any:
        @describe_reading(record, asks, rows=rows_of is not None, tagged=tagged)
        @functools.wraps(query)
        def get(self: Door, request: Request, **path: Any) -> HttpResponse:
            found = query(self, actor_of(request), **path, **asked(request, asks))
            if rows_of is not None and _wants_csv(request):
                return _as_csv(rows_of(found))
            return _tagged(request, found) if tagged else _as_json(shown(found))

        if rows_of is not None:
            get.rows = True
        get.query = query
        return get

    return wrap


def records(
    taken: type,
    given: type,
    status: int = 201,
    renamed: Mapping[str, str] = AS_IT_IS,
    guard: Callable[..., Any] | None = None,
    once_only: Mapping[str, Any] = AS_IT_IS,
    several: str = "",
    ready: Callable[[Actor, Any], Any] | None = None,
) -> Callable[[Any], Any]:
    """Make a door's method that records something once for its key.

    `renamed` maps beginnings of the entry's pointers to those of the body; `guard` reads the
    record that If-Match speaks of, and an answer that is this record carries its tag. `once_only`
    are fields whose kept answer is another than the first one. Where `several` points to a list of
    the entry, a list of bodies is taken too, and the deed is given all of them at once. A body is
    read before any transaction, and `ready` makes of it there what the deed is given.
    """

    tagged = guard is not None and get_type_hints(guard).get("return") is given

    def wrap(deed: Callable[..., Any]) -> Any:
        @describe_deed(taken, given, status, guard is not None, bool(several))
        @functools.wraps(deed)
        def post(self: Door, request: Request, **path: Any) -> HttpResponse:
            key, body = idempotency_key(request), request.data
            actor = replace(actor_of(request), key=key)
            places = places_in(body, several) if several else renamed
            first: dict[str, Any] = {}
            given = _made_ready(read_entries if several else read_entry, taken, body, actor, ready)

            def do() -> Rendered:
                first.clear()
                entry = given()
                acting = replace(actor, confirmed=_confirmed(entry))
                done = shown(deed(self, acting, entry, **path))
                _point_doubts(done, places, body)
                first.update(done)
                return status, as_json(done | once_only)

            def refuse(refused: Refused) -> Rendered:
                first.clear()
                return refused.status, problem_json(pointed(refused, places, body))

            unchanged: Callable[[], None] | None = None
            if guard is not None and "If-Match" in request.headers:
                wanted, read = request.headers["If-Match"], functools.partial(guard, actor, **path)
                unchanged = functools.partial(_refuse_changed, wanted, read)
            answer = once(actor, key, _fingerprint(request, body), do, refuse, unchanged)
            if once_only and first:
                answer = status, as_json(first)
            return _answer(*answer, tagged=tagged)

        return post

    return wrap


def _confirmed(entry: Any) -> frozenset[str]:
    """Gather what the body, or each of a list of them, says to be right."""
    bodies = entry if isinstance(entry, tuple) else (entry,)
    return frozenset(key for one in bodies for key in getattr(one, "confirmed", ()))


def _point_doubts(done: dict[str, Any], renamed: Mapping[str, str], body: Any) -> None:
    """Point doubts to what was sent, as problems are."""
    for doubt in done.get("doubts", ()):
        if isinstance(doubt, dict) and doubt.get("field"):
            doubt["field"] = place_in(body, begun_anew(doubt["field"], renamed))


def _made_ready(
    read: Callable[[type, Any], Any],
    taken: type,
    body: Any,
    actor: Actor,
    ready: Callable[[Actor, Any], Any] | None,
) -> Callable[[], Any]:
    """Read a body now; what comes back gives the entry, or refuses it as reading did."""
    try:
        entry = read(taken, body)
        entry = ready(actor, entry) if ready else entry
    except Refused as refused:
        again = functools.partial(type(refused), *refused.problems)
        return functools.partial(_refuse, again)
    return lambda: entry


def _refuse(again: Callable[[], Refused]) -> Any:
    raise again()


def idempotency_key(request: Request) -> str:
    """Read the request's key; a quoted one (RFC 8941 string) means what is inside."""
    key = request.headers.get("Idempotency-Key", "").strip()
    if len(key) > 1 and key[0] == key[-1] == '"':
        key = key[1:-1]
    if not key:
        raise BadRequest.because("key-missing", "Send an Idempotency-Key with every POST.")
    if len(key) > LONGEST_KEY or not (key.isascii() and key.isprintable()):
        raise BadRequest.because(
            "key-unreadable",
            say(
                "A key is at most {longest_key} printable ASCII characters.",
                longest_key=LONGEST_KEY,
            ),
        )
    return key


def _fingerprint(request: Request, body: Any) -> str:
    said = f"{request.method} {request.path}\n{canonical(body)}"
    return hashlib.sha256(said.encode()).hexdigest()


def entity_tag(text: str) -> str:
    """Tag a state of a record by what is shown of it."""
    return f'"{hashlib.sha256(text.encode()).hexdigest()[:32]}"'


def refuse_stale(wanted: str, record: Any) -> None:
    """Refuse when a record is no longer what If-Match stands for."""
    tags = {tag.strip() for tag in wanted.split(",")}
    if "*" not in tags and entity_tag(as_json(shown(record))) not in tags:
        raise Stale.because(
            "changed-meanwhile", "Somebody changed this meanwhile; read it again, then decide."
        )


def _refuse_changed(wanted: str, read: Callable[[], Any]) -> None:
    refuse_stale(wanted, read())


def _tagged(request: Request, record: Any) -> HttpResponse:
    text = as_json(shown(record))
    tag = entity_tag(text)
    known = request.headers.get("If-None-Match", "").replace("W/", "")
    if tag in {one.strip() for one in known.split(",")}:
        response = HttpResponse(status=304)
    else:
        response = HttpResponse(text, content_type=JSON)
    response["ETag"] = tag
    return response


def _wants_csv(request: Request) -> bool:
    return request.accepted_renderer.format == "csv"


def _as_json(data: Any) -> HttpResponse:
    return HttpResponse(as_json(data), content_type=JSON)


def _as_csv(found: Any) -> HttpResponse:
    return HttpResponse(rows.as_csv(found), content_type="text/csv; charset=utf-8; header=present")


def _answer(status: int, text: str, tagged: bool) -> HttpResponse:
    kind = MEDIA_TYPE if status >= 400 else JSON
    response = HttpResponse(text, status=status, content_type=kind)
    if tagged and status < 400:
        response["ETag"] = entity_tag(text)
    return response


class Changing(Door):
    http_method_names = ["get", "head", "patch"]
