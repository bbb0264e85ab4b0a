"""Bring a file of energy: looked through, seen, then taken."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from recycling.queries.energy.machines import energy_file, machine_page
from recycling.records.actors import Actor
from recycling.records.energy.entries import FileEntry
from recycling.records.energy.machines import EnergyFileRow
from recycling.services.energy.files import (
    LARGEST_FILE,
    READING,
    file_bring,
    file_choose,
    file_drop,
    file_take,
)
from recycling.web.energy.words import file_kind_said, file_state_said
from recycling.web.forms.entry_parts import machine_crumbs
from recycling.web.forms.page import recording
from recycling.web.languages import in_language, refusal_words
from recycling.web.pages.read import reading
from shared.errors import Forbidden, Refused, Unknown

WORKING = ("looking", "taking")
UNITS = ("W", "kW", "MW", "Wh", "kWh", "MWh")
SHAPES = ("year first", "day first", "month first", "seconds since 1970", "milliseconds since 1970")


class FileForm(forms.Form):
    """What is said about a file; most of it the file tells by itself."""

    kind = forms.ChoiceField(
        label=gettext_lazy("It holds"),
        required=False,
        choices=[
            ("", gettext_lazy("as the file says")),
            ("power", gettext_lazy("power samples")),
            ("counter", gettext_lazy("readings of a counter")),
            ("interval", gettext_lazy("energy of each interval")),
        ],
    )
    unit = forms.ChoiceField(
        label=gettext_lazy("Unit"),
        required=False,
        choices=[("", gettext_lazy("as the file says")), *((one, one) for one in UNITS)],
    )
    zone = forms.CharField(
        label=gettext_lazy("Zone of its clock"),
        help_text=gettext_lazy("Only used where times say no offset."),
        max_length=60,
    )
    max_gap_min = forms.FloatField(
        label=gettext_lazy("Longest time between rows that counts as covered, min"),
        initial=5,
        min_value=0.02,
        max_value=44_640,
        localize=True,
    )
    value_column = forms.CharField(
        label=gettext_lazy("Name of the value's column"), required=False, max_length=200
    )
    time_columns = forms.CharField(
        label=gettext_lazy("Name of the time's column"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Date and time apart: both names with a plus between them."),
    )
    time_shape = forms.ChoiceField(
        label=gettext_lazy("How times are written"),
        required=False,
        choices=[("", gettext_lazy("as the file says")), *((one, one) for one in SHAPES)],
    )
    separator = forms.ChoiceField(
        label=gettext_lazy("Between columns"),
        required=False,
        choices=[("", gettext_lazy("as the file says")), *((o, o) for o in (";", ",", "|", "tab"))],
    )
    decimal = forms.ChoiceField(
        label=gettext_lazy("Decimal sign"),
        required=False,
        choices=[("", gettext_lazy("as the file says")), (".", "."), (",", ",")],
    )
    repeated_hour = forms.ChoiceField(
        label=gettext_lazy("The hour that comes twice when clocks go back"),
        choices=[
            ("by order", gettext_lazy("told by the order of rows")),
            ("first", gettext_lazy("is the first")),
            ("second", gettext_lazy("is the second")),
        ],
        initial="by order",
    )
    rule = forms.ChoiceField(
        label=gettext_lazy("Power between two samples"),
        choices=[
            ("trapezoid", gettext_lazy("runs straight from one to the next")),
            ("step", gettext_lazy("stays until the next")),
        ],
        initial="trapezoid",
    )
    rollover_kwh = forms.FloatField(
        label=gettext_lazy("A counter starts again at, kWh"), required=False, localize=True
    )
    sort = forms.BooleanField(
        label=gettext_lazy("Put rows that are out of order in order"), required=False
    )
    falls_are_resets = forms.BooleanField(
        label=gettext_lazy("Wherever the counter fell, it was reset or exchanged"), required=False
    )

    def entry(self, machine: int, name: str = "") -> FileEntry:
        said = dict(self.cleaned_data)
        said.pop("file", None)
        return FileEntry(machine, name, max_gap_s=60 * said.pop("max_gap_min"), **said)


class BringForm(FileForm):
    """The file itself, then what is said about it."""

    file = forms.FileField(
        label=gettext_lazy("The file"),
        help_text=gettext_lazy("CSV as text, up to 1 GiB. Nothing counts before you have seen it."),
    )
    field_order = ("file",)


def _refused(form: forms.Form, refused: Refused) -> None:
    for problem in refused.problems:
        name = problem.pointer.strip("/")
        name = {"max_gap_s": "max_gap_min"}.get(name, name)
        form.add_error(name if name in form.fields else None, in_language(problem.detail))


@recording("record")
def file_new(request: HttpRequest, actor: Actor, machine: int) -> HttpResponse:
    """Bring a file for a machine."""
    page = machine_page(actor, machine)
    title = _("Bring a file")
    form = BringForm(
        request.POST or None, request.FILES or None, initial={"zone": actor.zone}, label_suffix=""
    )
    if request.method == "POST" and form.is_valid():
        upload = form.cleaned_data["file"]
        try:
            file = file_bring(actor, form.entry(machine, upload.name), upload.chunks())
            return redirect(reverse("energy-file", args=[actor.slug, file]))
        except (Unknown, Forbidden):
            raise
        except Refused as refused:
            _refused(form, refused)
    shown = {
        "nav": "machines",
        "title": title,
        "form": form,
        "machine": page,
        "main": [form["file"], form["kind"], form["unit"]],
        "beside": [one for one in form if one.name not in ("file", "kind", "unit")],
        "crumbs": machine_crumbs(actor, machine, page.name, title),
    }
    return render(request, "energy/file_new.html", shown, status=422 if form.errors else 200)


file_new.largest_request = LARGEST_FILE + 2**20  # type: ignore[attr-defined]


@recording("read")
def file(request: HttpRequest, actor: Actor, file: int) -> HttpResponse:
    """Show what is in a file; say something else about it; take it."""
    row = energy_file(actor, file)
    form = FileForm(request.POST or None, initial=_initial(row), label_suffix="")
    if request.method == "POST" and form.is_valid():
        try:
            file_choose(actor, file, form.entry(row.machine))
            return redirect(reverse("energy-file", args=[actor.slug, file]))
        except (Unknown, Forbidden):
            raise
        except Refused as refused:
            _refused(form, refused)
    return _show(request, actor, row, form, 422 if form.errors else 200)


def _initial(row: EnergyFileRow) -> dict[str, Any]:
    return {**row.choices, "max_gap_min": row.choices.get("max_gap_s", 300) / 60}


def _show(
    request: HttpRequest, actor: Actor, row: EnergyFileRow, form: FileForm, status: int
) -> HttpResponse:
    from recycling.web.energy.previews import preview_facts, preview_gaps

    shown = {
        "nav": "machines",
        "file": row,
        "form": form,
        "state_said": file_state_said(row.state),
        "kind_said": file_kind_said(row.kind),
        "working": row.state in WORKING,
        "progress": _progress(actor, row),
        "facts": preview_facts(row) if row.preview else (),
        "gaps": preview_gaps(row) if row.preview else (),
        "can_take": row.state == "looked" and row.preview.get("can_be_written"),
        "may_record": actor.may("record"),
        "beside": [form[name] for name in form.fields],
        "crumbs": machine_crumbs(actor, row.machine, row.machine_name, row.name),
    }
    return render(request, "energy/file.html", shown, status=status)


@reading
def file_progress(request: HttpRequest, actor: Actor, file: int) -> HttpResponseBase:
    """Say how far the work on a file is; when it is done the page is loaded anew."""
    row = energy_file(actor, file)
    if row.state not in WORKING:
        answer = HttpResponse(status=200)
        answer["HX-Refresh"] = "true"
        return answer
    return render(request, "components/progress.html", _progress(actor, row))


def _progress(actor: Actor, row: EnergyFileRow) -> dict[str, Any]:
    """Say how many of the file's bytes were read."""
    size_mb = row.size_bytes / 1_000_000
    return {
        "label": file_state_said(row.state),
        "total": f"{size_mb:.3f}",
        "done": f"{size_mb * min((row.done_share or 0.0) / READING, 1.0):.3f}",
        "unit": "MB",
        "poll_url": reverse("energy-file-progress", args=[actor.slug, row.file]),
        "leave": True,
    }


@require_POST
def file_deed(request: HttpRequest, slug: str, file: int, deed: str) -> HttpResponse:
    """Take or drop a file that was seen; doing it twice changes nothing."""
    from django.contrib import messages

    actor: Actor = request.actor  # type: ignore[attr-defined]
    url = reverse("energy-file", args=[actor.slug, file])
    try:
        if deed == "drop":
            machine = file_drop(actor, file)
            messages.success(request, _("The file was dropped; nothing of it counts."))
            url = reverse("machine", args=[actor.slug, machine])
        else:
            file_take(actor, file)
    except Unknown as missing:
        raise Http404(str(missing)) from missing
    except Forbidden as forbidden:
        raise PermissionDenied(str(forbidden)) from forbidden
    except Refused as refused:
        messages.error(request, refusal_words(refused))
    return redirect(url)
