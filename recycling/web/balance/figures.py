"""From yields to what is drawn: the control chart, and the steps from collected to spooled."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.figures.control_chart import control_svg
from recycling.figures.flows_svg import waterfall_svg
from recycling.records.balance.yields import LossStep, YieldChart
from recycling.records.drawings import ControlChart, ControlPoint, Step, Waterfall
from recycling.stages.declaration import LOSSES
from recycling.web.book_words import said, stage_said
from recycling.web.pages.figures import Figure
from recycling.web.templatetags.ledger import percent
from recycling.web.templatetags.look import kg, mass_text, word_for

ROLES = {
    "side": "side",
    "waste": "waste",
    "unaccounted": "unaccounted",
    "spooled": "product",
    "into stock": "heel",
    "taken back": "recirculate",
    "gone from stock": "side",
    **dict.fromkeys(LOSSES, "loss"),
}


def step_words(step: LossStep) -> str:
    """Say what a step is."""
    own = {
        "collected": _("collected"),
        "purchase": _("bought"),
        "opening": _("counted in at the start"),
        "into stock": _("into stock and open runs"),
        "gone from stock": _("dispatched or discarded from stock"),
        "taken back": _("fed again from side streams and waste"),
        "spooled": _("wound on spools"),
    }
    if step.what in own:
        return own[step.what]
    what = word_for(step.what, "role") if step.what in ("side", "waste") else ""
    what = what or said(step.what, "account")
    return f"{stage_said(step.stage)}: {what}" if step.stage else what


def losses_figure(steps: tuple[LossStep, ...], csv_url: str) -> Figure | None:
    """Draw where a period's mass went as a waterfall; None where nothing moved."""
    moved = [step for step in steps if step.change_mg or step.total]
    if len(moved) < 3:
        return None
    drawn = tuple(
        Step(
            step_words(step),
            step.left_mg if step.total else step.change_mg,
            ROLES.get(step.what, "input"),
            step.total,
        )
        for step in moved
    )
    gone = [step for step in moved if not step.total and step.change_mg < 0]
    collected, spooled = moved[0].left_mg, moved[-1].left_mg
    finding = _("%(collected)s were collected and %(spooled)s wound on spools.") % {
        "collected": mass_text(collected),
        "spooled": mass_text(spooled),
    }
    if gone:
        largest = min(gone, key=lambda step: step.change_mg)
        finding += " " + _("The largest step is %(what)s, %(mass)s.") % {
            "what": step_words(largest),
            "mass": mass_text(-largest.change_mg),
        }
    title = _("From collected to spooled")
    record = Waterfall(title, finding, drawn)
    rows = tuple((step_words(one), kg(one.change_mg), kg(one.left_mg)) for one in moved)
    columns = (_("Step"), _("Change, kg"), _("Left, kg"))
    svg = waterfall_svg(record, mass_text, "losses-drawing")
    note = _("Each step is exact to the milligram; what came from stock stands against the loss.")
    return Figure("losses", title, finding, svg, columns, rows, csv_url, note, record)


def control_figure(chart: YieldChart, csv_url: str) -> Figure:
    """Draw the yield of a stage's runs over time with limits."""
    outside = [point for point in chart.points if point.signals]
    title = _("Yield of each run: %(stage)s") % {"stage": stage_said(chart.stage)}
    finding = _("Mean %(mean)s, limits %(lower)s and %(upper)s.") % {
        "mean": percent(chart.mean),
        "lower": percent(chart.lower),
        "upper": percent(chart.upper),
    }
    if outside:
        text = ngettext(
            "%(count)d run is out of control: %(codes)s.",
            "%(count)d runs are out of control: %(codes)s.",
            len(outside),
        )
        codes = ", ".join(point.run for point in outside)
        finding += " " + text % {"count": len(outside), "codes": codes}
    else:
        finding += " " + _("Every run is in control.")
    record = ControlChart(
        title,
        finding,
        tuple(
            ControlPoint(one.run, one.share, one.moving_range, bool(one.signals))
            for one in chart.points
        ),
        chart.mean,
        chart.lower,
        chart.upper,
        chart.mean_range,
        chart.range_upper,
        (_("Yield"), _("Step from the run before"), _("mean"), _("limit"), _("out of control")),
    )
    rows = tuple(
        (one.run, percent(one.share), percent(one.half), percent(one.moving_range))
        for one in chart.points
    )
    columns = (_("Run"), _("Yield"), _("± (covers 95 %)"), _("Moving range"))
    note = _(
        "Individuals and moving-range chart: limits at mean ± 2.660 times the mean moving range"
        " (NIST/SEMATECH e-Handbook, 6.3.2.2)."
    )
    if chart.provisional:
        few = _("Fewer than %(number)g runs (%(source)s): the limits are provisional.")
        note += " " + few % {"number": chart.firm.value, "source": chart.firm.source}
    svg = control_svg(record, percent, "control-drawing")
    return Figure("control", title, finding, svg, columns, rows, csv_url, note, record)
