"""What every reading page shares: who may see it, addresses of codes, paging and CSV."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import partial, wraps
from tempfile import SpooledTemporaryFile
from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from recycling.records.actors import Actor
from recycling.records.paging import Page
from recycling.tables.csv_text import csv_lines
from recycling.web.pages.mistyped import not_a_code
from shared.codes import read_code
from shared.errors import Refused, Unknown

PAGE_OF = {
    "R": "run",
    "L": "lot",
    "S": "lot",
    "C": "collection",
    "P": "collection",
    "O": "collection",
    "D": "report",
}
EXPORT_LIMIT = 200
LIST_LIMIT = 50
IN_MEMORY, PIECE = 2**20, 2**16
"""Bytes of a file held in memory before the rest goes to disk, and sent at a time."""

View = Callable[..., HttpResponseBase]


def reading(view: View) -> View:
    """Let every member read; what the book does not have is a page that does not exist."""

    @require_safe
    @wraps(view)
    def answer(request: HttpRequest, slug: str, **named: str) -> HttpResponseBase:
        if "code" in named:
            typed, code = named["code"], read_code(named["code"])
            if code is None:
                return not_a_code(request, typed)
            named["code"] = code
        try:
            return view(request, request.actor, **named)  # type: ignore[attr-defined]
        except Unknown as missing:
            raise Http404(str(missing)) from missing
        except Refused:
            if "after" not in request.GET:
                raise
            return redirect(address_with(request, after=""))

    return answer


def link(name: str, actor: Actor, *arguments: object) -> str:
    """Give the address of a page by its name; empty where there is no such page."""
    try:
        return reverse(name, args=[actor.slug, *arguments])
    except NoReverseMatch:
        return ""


def code_url(slug: str, code: str) -> str:
    """Give the address of the page of whatever a code names."""
    name = PAGE_OF.get(code[:1].upper())
    return reverse(name, args=[slug, code]) if name else ""


def address_with(request: HttpRequest, **changes: str) -> str:
    """Give this page's address with other filters; an empty value takes one away."""
    query = {key: value for key, value in request.GET.items() if value} | changes
    kept = {key: value for key, value in query.items() if value}
    return f"{request.path}?{urlencode(kept)}" if kept else request.path


def wants_csv(request: HttpRequest) -> str:
    """Say which table is wanted as CSV: its name, "rows" where none is named, empty for none."""
    if request.GET.get("format") != "csv":
        return ""
    return request.GET.get("table", "") or "rows"


def csv_url(request: HttpRequest, table: str = "") -> str:
    """Give the address of a table of this page as CSV."""
    return address_with(request, format="csv", table=table, after="")


def csv_answer(
    name: str, columns: Sequence[str], rows: Iterable[Sequence[object]]
) -> StreamingHttpResponse:
    """Give rows as a file; all are read before the first leaves, in the one moment of the page."""
    held = SpooledTemporaryFile(IN_MEMORY)  # noqa: SIM115 (it is read while the answer is sent)
    held.writelines(line.encode() for line in csv_lines(columns, rows))
    held.seek(0)
    pieces = iter(partial(held.read, PIECE), b"")
    answer = StreamingHttpResponse(pieces, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


def all_rows(ask: Callable[[str], Page[Any]]) -> Iterator[Any]:
    """Go through a list to its end, page by page; `ask` takes the cursor."""
    after = ""
    while True:
        page = ask(after)
        yield from page.rows
        if not page.next:
            return
        after = page.next


@dataclass(frozen=True)
class Pager:
    """Links from one page of a list to the next; back goes to the beginning."""

    previous_url: str
    next_url: str
    shown: int


def pager(request: HttpRequest, page: Page[Any]) -> Pager:
    start = address_with(request, after="") if request.GET.get("after") else ""
    forward = address_with(request, after=page.next) if page.next else ""
    return Pager(start, forward, len(page.rows))


def show(
    request: HttpRequest, template: str, nav: str, status: int = 200, **context: Any
) -> HttpResponse:
    return render(request, template, {"nav": nav, **context}, status=status)


@dataclass(frozen=True)
class Choice:
    """A choice of a filter."""

    value: str
    label: str


@dataclass(frozen=True)
class Filter:
    """A filter above a list: its name in the address, its label, what is chosen, and from what.

    Without choices it is a field to type into.
    """

    name: str
    label: str
    value: str
    choices: tuple[Choice, ...] = ()
    is_day: bool = False


def days_asked(request: HttpRequest) -> tuple[dict[str, datetime], list[Filter]]:
    """Read from which day to which a list is asked for, both inside; what is no day is left out."""
    within: dict[str, datetime] = {}
    filters: list[Filter] = []
    for name, passed_as, label, days in (
        ("from", "start", _("From day"), 0),
        ("to", "end", _("To day"), 1),
    ):
        typed = request.GET.get(name, "")[:10]
        filters.append(Filter(name, label, typed, is_day=True))
        try:
            day = date.fromisoformat(typed) + timedelta(days=days)
            zone = timezone.get_current_timezone()
            within[passed_as] = datetime.combine(day, time(), zone)
        except (ValueError, OverflowError):
            continue
    return within, filters


def chosen(request: HttpRequest, name: str, choices: Iterable[Choice]) -> str:
    """Give the chosen value; anything that is not among the choices counts as any."""
    value = request.GET.get(name, "")
    return value if any(choice.value == value for choice in choices) else ""
