"""Bring a list of what came in: looked through, seen, then taken as a whole."""

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

from recycling.queries.lists import import_shown, imports
from recycling.records.actors import Actor
from recycling.records.lists import ImportRow
from recycling.services.lists import LARGEST_BYTES, import_bring_file, import_drop, import_take
from recycling.tables.lists.entries_csv import BAG, HEAD
from recycling.web.forms.page import recording
from recycling.web.forms.stages import crumbs_of
from recycling.web.languages import in_language, refusal_words
from recycling.web.lists.words import (
    columns_said,
    facts_said,
    problem_said,
    sentence_said,
    state_said,
)
from recycling.web.pages.read import csv_answer, reading
from shared.errors import Forbidden, Refused, Unknown

WORKING = ("looking", "taking")
MOST_SHOWN = 100


class BringForm(forms.Form):
    """The file; it says by itself what is in it."""

    file = forms.FileField(
        label=gettext_lazy("The file"),
        help_text=gettext_lazy("A spreadsheet (XLSX) or CSV, up to 5,000 rows and 5 MiB."),
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.xlsx,.txt,.json,text/csv"}),
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
                number = import_bring_file(actor, upload.name, upload.read(LARGEST_BYTES + 1))
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
        "crumbs": crumbs_of(actor, _title()),
    }
    return render(request, "lists/imports.html", shown, status=422 if form.errors else 200)


@recording("read")
def import_page(request: HttpRequest, actor: Actor, number: int) -> HttpResponse:
    """Show what is in a file, and each row that something stands against."""
    row = import_shown(actor, number)
    shown = {
        "nav": "record",
        "file": row,
        "working": row.state in WORKING,
        "progress": _progress(actor, row),
        "sentence": sentence_said(row),
        "facts": facts_said(row),
        "lots": row.lots[:MOST_SHOWN],
        "more_lots": max(len(row.lots) - MOST_SHOWN, 0),
        "problems": [(one, in_language(one.detail)) for one in row.problems],
        "sources_wanted": any(one.code == "source-unknown" for one in row.problems),
        "may_record": actor.may("record"),
        "crumbs": [
            *crumbs_of(actor, _title())[:1],
            (_title(), reverse("imports", args=[actor.slug])),
            (row.name or str(row.number), ""),
        ],
    }
    return render(request, "lists/import.html", shown)


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
    """All of a file is one transaction, so that nobody can see how far it is: no figure."""
    return {
        "label": capfirst(state_said(row.state)),
        "poll_url": reverse("import-progress", args=[actor.slug, row.number]),
        "leave": True,
    }


@reading
def template(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Give a file with the heads of all columns and nothing below."""
    return csv_answer("what-came-in", [*HEAD, *BAG], [])


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
