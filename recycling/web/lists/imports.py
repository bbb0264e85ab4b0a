"""Bring a list of what came in: looked through, asked about, seen, then taken as a whole."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from recycling.queries.lists import import_rows, import_shown, imports
from recycling.records.actors import Actor
from recycling.records.lists import ImportRow
from recycling.services.lists import (
    LARGEST_BYTES,
    import_answer,
    import_bring,
    import_drop,
    import_take,
    import_undo,
)
from recycling.tables.lists.entries import EXAMPLES
from recycling.web.forms.page import recording
from recycling.web.forms.stages import crumbs_of
from recycling.web.languages import in_language, refusal_words
from recycling.web.lists.words import (
    columns_read,
    columns_said,
    counts_said,
    facts_said,
    left_said,
    problem_said,
    sentence_said,
    state_said,
)
from recycling.web.pages.read import csv_answer, reading
from shared.errors import Forbidden, Refused, Unknown

WORKING = ("looking", "taking", "undoing")
MOST_SHOWN = 100
FATES = ("new", "known", "left")
ANSWER = "answer:"


class BringForm(forms.Form):
    """The file; it says by itself what is in it."""

    file = forms.FileField(
        label=gettext_lazy("The file"),
        help_text=gettext_lazy(
            "A spreadsheet (XLSX, ODS) or text (CSV, TSV), as you keep it: up to 60,000 rows and"
            " 10 MiB."
        ),
        widget=forms.ClearableFileInput(
            attrs={"accept": ".csv,.tsv,.tab,.xlsx,.ods,.txt,.json,text/csv"}
        ),
    )


def _title() -> str:
    return _("Bring a list of what came in")


@recording("read")
def imports_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Bring a file; list those that were brought."""
    form = BringForm(request.POST or None, request.FILES or None, label_suffix="")
    if request.method == "POST":
        if not actor.may("record"):
            raise PermissionDenied
        if form.is_valid():
            upload = form.cleaned_data["file"]
            try:
                number = import_bring(actor, upload.name, upload.read(LARGEST_BYTES + 1))
                return redirect(reverse("import", args=[actor.slug, number]))
            except (Unknown, Forbidden):
                raise
            except Refused as refused:
                for problem in refused.problems:
                    form.add_error("file", problem_said(problem.pointer, problem.detail))
    shown = {
        "nav": "record",
        "title": _title(),
        "form": form,
        "may_record": actor.may("record"),
        "files": [(one, state_said(one.state)) for one in imports(actor)],
        "columns": columns_said(),
        "templates": _templates(actor),
        "crumbs": crumbs_of(actor, _title()),
    }
    return render(request, "lists/imports.html", shown, status=422 if form.errors else 200)


def _templates(actor: Actor) -> list[tuple[str, str]]:
    """Give the address of each empty list, and what it is for."""
    said = (
        ("import-template", _("Gifts")),
        ("import-purchases", _("Purchases")),
        ("import-opening", _("What was there at the start")),
    )
    return [(reverse(name, args=[actor.slug]), words) for name, words in said]


@recording("read")
def import_page(request: HttpRequest, actor: Actor, number: int) -> HttpResponse:
    """Show what a list leaves open, what becomes of each row, and what stands against it."""
    row = import_shown(actor, number)
    fate = request.GET.get("fate", "new")
    fate = fate if fate in FATES else "new"
    page = import_rows(actor, number, fate, request.GET.get("after", ""), MOST_SHOWN)
    shown = {
        "nav": "record",
        "file": row,
        "working": row.state in WORKING,
        "progress": _progress(actor, row),
        "sentence": sentence_said(row),
        "facts": facts_said(row),
        "questions": [(one, in_language(one.detail), _choices(one)) for one in row.questions],
        "columns": columns_read(row),
        "counts": counts_said(row, fate),
        "lines": [(line, left_said(line.why)) for line in page.rows],
        "fate": fate,
        "next": page.next,
        "lots": row.lots[:MOST_SHOWN] if not row.counts.new else (),
        "more_lots": max(row.lots_count - MOST_SHOWN, 0),
        "problems": [(one, in_language(one.detail)) for one in row.problems],
        "may_record": actor.may("record"),
        "may_void": actor.may("void"),
        "crumbs": [
            *crumbs_of(actor, _title())[:1],
            (_title(), reverse("imports", args=[actor.slug])),
            (row.name or str(row.number), ""),
        ],
    }
    return render(request, "lists/import.html", shown)


def _choices(question: Any) -> list[tuple[str, str, str]]:
    return [(one.key, in_language(one.label), in_language(one.example)) for one in question.choices]


@reading
def progress(request: HttpRequest, actor: Actor, number: int) -> HttpResponseBase:
    """Say that the work goes on; when it is done the page is loaded anew."""
    row = import_shown(actor, number)
    if row.state not in WORKING:
        answer = HttpResponse(status=200)
        answer["HX-Refresh"] = "true"
        return answer
    return render(request, "components/progress.html", _progress(actor, row))


def _progress(actor: Actor, row: ImportRow) -> dict[str, Any]:
    """Say what is done, and how far, where it goes part by part."""
    told: dict[str, Any] = {
        "label": capfirst(state_said(row.state)),
        "poll_url": reverse("import-progress", args=[actor.slug, row.number]),
        "leave": True,
    }
    if row.state in ("taking", "undoing") and row.done_share:
        told |= {"total": 100, "done": round(100 * row.done_share), "unit": "%"}
    return told


@reading
def template(request: HttpRequest, actor: Actor, kind: str = "collection") -> HttpResponseBase:
    """Give a list for a kind: its heads, and an example that is left out when it is brought."""
    example = EXAMPLES[kind]
    return csv_answer(f"list-{kind}", list(example), [list(example.values())])


@require_POST
@recording("record")
def answer(request: HttpRequest, actor: Actor, number: int) -> HttpResponse:
    """Take the answers to what a list leaves open; what was not answered is asked again."""
    answers = {
        name.removeprefix(ANSWER): value
        for name, value in request.POST.items()
        if name.startswith(ANSWER) and isinstance(value, str) and value
    }
    if answers:
        try:
            import_answer(actor, number, answers)
        except (Unknown, Forbidden):
            raise
        except Refused as refused:
            messages.error(request, refusal_words(refused))
    else:
        messages.error(request, _("Choose an answer first."))
    return redirect(reverse("import", args=[actor.slug, number]))


@require_POST
@recording("record")
def take(request: HttpRequest, actor: Actor, number: int) -> HttpResponse:
    """Take a file that was seen; doing it twice changes nothing."""
    try:
        import_take(actor, number)
    except (Unknown, Forbidden):
        raise
    except Refused as refused:
        messages.error(request, refusal_words(refused))
    return redirect(reverse("import", args=[actor.slug, number]))


@require_POST
@recording("record")
def undo(request: HttpRequest, actor: Actor, number: int) -> HttpResponse:
    """Take back all that was taken of a list."""
    try:
        import_undo(actor, number, request.POST.get("reason", ""))
    except (Unknown, Forbidden):
        raise
    except Refused as refused:
        messages.error(request, refusal_words(refused))
    return redirect(reverse("import", args=[actor.slug, number]))


@require_POST
@recording("record")
def drop(request: HttpRequest, actor: Actor, number: int) -> HttpResponse:
    """Drop a file that was not taken."""
    try:
        import_drop(actor, number)
    except (Unknown, Forbidden):
        raise
    except Refused as refused:
        messages.error(request, refusal_words(refused))
        return redirect(reverse("import", args=[actor.slug, number]))
    messages.success(request, _("The file was dropped; nothing of it is recorded."))
    return redirect(reverse("imports", args=[actor.slug]))
