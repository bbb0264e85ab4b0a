"""Reconciliation of a period: asked for, its progress, measured and reconciled side by side."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from recycling.queries.balance.reconciliations import (
    reconciled_flows,
    reconciliation,
    reconciliations,
)
from recycling.records.actors import Actor
from recycling.records.balance.reconciliations import Reconciled, ReconciledRow, ReconciliationEntry
from recycling.records.paging import Page
from recycling.services.balance.reconciliation import reconciliation_start
from recycling.tables.csv_text import kilograms, mg_as_kilograms
from recycling.web.forms.fields import DayField
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.pages.periods import presets
from recycling.web.pages.read import (
    EXPORT_LIMIT,
    LIST_LIMIT,
    all_rows,
    csv_answer,
    csv_url,
    link,
    pager,
    reading,
    show,
    wants_csv,
)

DAY = timedelta(days=1)
COLUMNS = (
    "flow",
    "run",
    "stage",
    "lot",
    "measured, kg",
    "standard uncertainty, kg",
    "95 % half-interval, kg",
    "reconciled, kg",
    "standard uncertainty of reconciled, kg",
    "95 % half-interval of reconciled, kg",
    "z",
    "set aside",
)


@reading
def reconciliations_page(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    return show(
        request,
        "balance/reconciliations.html",
        "balance",
        rows=reconciliations(actor),
        new_url=link("reconciliation-new", actor) if actor.may("record") else "",
    )


class Days:
    """The first and the last day of a period."""

    key = "days"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("days").rows.append(row)
        form.add(row, "first", DayField(_("First day"), required=True))
        form.add(row, "last", DayField(_("Last day"), required=True))

    def read(self, form: EntryForm) -> ReconciliationEntry | None:
        first, last = form.cleaned_data.get("first"), form.cleaned_data.get("last")
        if first is None or last is None:
            form.add_error("first" if first is None else "last", _("Give a day."))
            return None
        form.point("/to", "", itself="last")
        zone = timezone.get_current_timezone()
        start, end = (datetime.combine(day, time.min, tzinfo=zone) for day in (first, last + DAY))
        return ReconciliationEntry(start, end)


@recording("record")
def reconciliation_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Ask for a period to be reconciled in the background."""
    back = reverse("reconciliations", args=[actor.slug])
    title = _("Reconcile a period")
    usual = next(one for one in presets(timezone.localdate()) if one.key == "quarter")

    def saved(number: int, _values: Any) -> Saved:
        url = reverse("reconciliation", args=[actor.slug, number])
        see = Step(_("See how far it is"), url, primary=True)
        text = _("The work has begun; you may leave it alone. No posting changes.")
        return Saved(_("Reconciliation %d") % number, text, (see,), url=url)

    sheet = Sheet(
        title,
        _("Reconcile it"),
        [Days()],
        lambda acting, values: reconciliation_start(acting, values["days"]),
        saved,
        initial={"first": usual.first.isoformat(), "last": usual.last.isoformat()},
        context={
            "crumbs": [(_("Reconciliation"), back), (title, "")],
            "lede": _(
                "Every weighing of the period is weighed against all others: a lot when it is made,"
                " when it is drawn and when it is counted; a run by what goes in and comes out."
            ),
        },
        nav="balance",
    )
    return enter(request, actor, sheet)


@reading
def reconciliation_page(request: HttpRequest, actor: Actor, number: int) -> HttpResponseBase:
    found = reconciliation(actor, number)
    only = request.GET.get("only") == "suspects"
    if wants_csv(request):

        def page_of(after: str) -> Page[ReconciledRow]:
            return reconciled_flows(actor, number, only, after, EXPORT_LIMIT)

        return csv_answer(f"reconciliation-{number}", COLUMNS, map(_cells, all_rows(page_of)))
    page = reconciled_flows(actor, number, only, request.GET.get("after", ""), LIST_LIMIT)
    return show(
        request,
        "pages/progress.html"
        if request.headers.get("HX-Request") and not found.done_at
        else "balance/reconciliation.html",
        "balance",
        found=found,
        last_day=found.end - DAY,
        finding=finding(found),
        suspects=_suspects(actor, found),
        page=page,
        only=only,
        pager=pager(request, page),
        csv=csv_url(request),
        done_percent=round(100 * found.done_share),
    )


def finding(found: Reconciled) -> str:
    """Say in a sentence what a reconciliation found."""
    if not found.done_at:
        return _("The work goes on.")
    if found.failure:
        return found.failure
    if found.passes is None:
        return _("Nothing was weighed twice in this period, so nothing can be tested.")
    if found.passes:
        return _("Weighing alone explains everything that does not fit.")
    if found.ended:
        return _(
            "Weighing alone does not explain what does not fit; it does once the weighings below"
            " are set aside. They are suspected, not proved wrong."
        )
    return _("Weighing does not explain what does not fit, even with the worst ones set aside.")


def _suspects(actor: Actor, found: Reconciled) -> list[dict[str, Any]]:
    may = actor.may("correct")
    return [
        {
            "suspect": one,
            "flows": [
                (flow, link("posting-correct", actor, flow.posting) if may and flow.posting else "")
                for flow in one.tied[:12]
            ],
            "more": max(len(one.tied) - 12, 0),
        }
        for one in found.suspects
    ]


def _cells(row: ReconciledRow) -> tuple[object, ...]:
    return (
        row.kind,
        row.run,
        row.stage,
        row.lot,
        kilograms(row.measured_mg),
        None if row.u_mg is None else kilograms(round(row.u_mg)),
        None if row.half_mg is None else mg_as_kilograms(row.half_mg),
        kilograms(row.reconciled_mg),
        kilograms(round(row.u_reconciled_mg)),
        mg_as_kilograms(row.half_reconciled_mg),
        None if row.z is None else round(row.z, 3),
        row.suspect,
    )
