"""From what the book says to what is drawn: compositions, fates, lineages and flows."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.figures.flows_svg import bars_svg, sankey_svg
from recycling.figures.interactive import interactive
from recycling.figures.lineage_svg import lineage_svg
from recycling.figures.shapes import LINES
from recycling.records.balance.balance import Flow, Statement
from recycling.records.drawings import (
    Bar,
    Bars,
    ControlChart,
    DrawnFlow,
    DrawnLot,
    DrawnRun,
    FlowNode,
    Flows,
    Lineage,
    Months,
    Waterfall,
)
from recycling.records.lots.origins import LotOrigins, OriginRecord
from recycling.records.lots.traces import Trace, TraceLot
from recycling.stages import STAGES
from recycling.stages.declaration import ROLES
from recycling.web.book_words import PLACE_ROLES, said, stage_said
from recycling.web.pages.read import code_url
from recycling.web.templatetags.ledger import percent
from recycling.web.templatetags.look import kg, mass_text, word_for

MOST_BARS = 12
STAGE_KEYS = {declared.title: declared.key for declared in STAGES}
ROLE_KEYS = {words: key for key, words in ROLES.items()}
RANK = {title: place for place, title in enumerate(STAGE_KEYS)}
"""Where stages stand in the process, so that flows that run back are seen."""

BEFORE_ALL, AT_THE_END = -1, len(RANK)
ENDS = {"Unaccounted": "unaccounted", "Discarded": "waste"}
"""Ends of the drawing that have a line style of their own, whatever the flow's role."""


@dataclass(frozen=True)
class Figure:
    """What ``components/figure.html`` shows.

    Attributes
    ----------
    key, title, finding : str
        Id on the page, title, and the sentence that says what is to be seen.
    svg : str
        The drawing.
    columns, rows : tuple
        The same numbers as a table.
    csv_url, note : str
        Where the numbers are as CSV, and a remark.
    record : record of a drawing, or None
        What the drawing was made from, where it can be explored too.
    """

    key: str
    title: str
    finding: str
    svg: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    csv_url: str = ""
    note: str = ""
    record: Flows | Waterfall | Months | ControlChart | None = None

    @property
    def explored(self) -> dict[str, Any]:
        """The interactive form, made only when somebody asks for it."""
        return interactive(self.record, mass_text)


def role_drawn(role: str) -> str:
    """Give the line style of a role; what is none of them is a loss."""
    return role if role in LINES else "loss"


def _day(moment: Any) -> str:
    return date_format(localtime(moment), "SHORT_DATE_FORMAT")


def composition_finding(origins: LotOrigins) -> str:
    """Say who is in a lot in one sentence."""
    if not origins.origins:
        return _("Nothing of it can be traced to an origin above the floor.")
    first, count = origins.origins[0], len(origins.origins)
    if count == 1 and not origins.traces_mg:
        return _("All of it is from %(code)s, %(source)s.") % {
            "code": first.code,
            "source": first.source or said(first.kind, "origin"),
        }
    return ngettext(
        "%(count)d origin; the largest part, %(share)s, is from %(code)s, %(source)s.",
        "%(count)d origins; the largest part, %(share)s, is from %(code)s, %(source)s.",
        count,
    ) % {
        "count": count,
        "share": percent(first.share),
        "code": first.code,
        "source": first.source or said(first.kind, "origin"),
    }


def composition(origins: LotOrigins) -> Figure:
    """Draw who is in a lot: a bar for each origin, the small ones together."""
    named = origins.origins[:MOST_BARS]
    rest_mg = sum(part.mass_mg for part in origins.origins[MOST_BARS:])
    bars = [
        Bar(
            f"{part.code} {part.source or said(part.kind, 'origin')} · {percent(part.share)}",
            part.mass_mg,
            "product" if part.kind == "collection" else "side",
        )
        for part in named
    ]
    if rest_mg:
        more = len(origins.origins) - MOST_BARS
        label = ngettext("%(count)d more origin", "%(count)d more origins", more) % {"count": more}
        bars.append(Bar(label, rest_mg, "recirculate"))
    if origins.traces_mg:
        bars.append(Bar(_("traces"), origins.traces_mg, "unaccounted"))
    title = _("What %(lot)s is made of") % {"lot": origins.lot}
    record = Bars(title, composition_finding(origins), tuple(bars))
    svg = bars_svg(record, words=mass_text, key="composition-drawing")
    return Figure("composition", title, record.finding, svg, (), ())


def fate(origin: OriginRecord) -> Figure:
    """Draw what became of an origin: a bar for each place its mass is in."""
    lines = [line for line in origin.fate if line.mass_mg]
    largest = max(lines, key=lambda line: line.mass_mg, default=None)
    finding = (
        _("Most of it, %(share)s, is %(place)s.")
        % {"share": percent(largest.share), "place": said(largest.place, "place")}
        if largest
        else _("Nothing of it is in the book.")
    )
    bars = tuple(
        Bar(
            f"{said(line.place, 'place')} · {percent(line.share)}",
            line.mass_mg,
            PLACE_ROLES.get(line.place, "loss"),
        )
        for line in lines
    )
    title = _("What became of %(code)s") % {"code": origin.code}
    svg = bars_svg(Bars(title, finding, bars), words=mass_text, key="fate-drawing")
    return Figure("fate", title, finding, svg, (), ())


def lineage_drawing(slug: str, trace: Trace) -> str:
    """Draw a lineage as SVG: lots and runs that link to their pages."""
    lots = tuple(
        DrawnLot(lot.code, _shape(lot), word_for(_shape(lot), "form"), lot.made_mg)
        for lot in trace.lots
    )
    runs = tuple(DrawnRun(run.code, stage_said(run.stage), _day(run.at)) for run in trace.runs)
    flows = tuple(
        DrawnFlow(edge.lot, edge.run, edge.mass_mg, "input")
        if edge.direction == "in"
        else DrawnFlow(edge.run, edge.lot, edge.mass_mg, role_drawn(edge.role))
        for edge in trace.edges
    )
    title = _("Lineage of %(lot)s") % {"lot": trace.lot}
    record = Lineage(title, lineage_finding(trace), lots, runs, flows, trace.lot)
    return lineage_svg(record, url=lambda code: code_url(slug, code), words=mass_text)


def _shape(lot: TraceLot) -> str:
    return "spool" if lot.code[0] == "S" else lot.form


def lineage_finding(trace: Trace) -> str:
    """Say how large a lineage is, and how many origins it starts from."""
    origins = len({lot.origin for lot in trace.lots if lot.origin})
    lots = ngettext("%(count)d lot", "%(count)d lots", len(trace.lots)) % {"count": len(trace.lots)}
    runs = ngettext("%(count)d run", "%(count)d runs", len(trace.runs)) % {"count": len(trace.runs)}
    came = ngettext("%(count)d origin", "%(count)d origins", origins) % {"count": origins}
    return _("%(lots)s through %(runs)s, from %(origins)s.") % {
        "lots": lots,
        "runs": runs,
        "origins": came,
    }


def flows_finding(whole: Statement, filament_mg: int) -> str:
    """Say how much came in, how much became filament, and how much is unaccounted for."""
    text = _("%(received)s came in and %(filament)s of filament was made.") % {
        "received": mass_text(whole.received_mg),
        "filament": mass_text(filament_mg),
    }
    lost = mass_text(abs(whole.unaccounted_mg))
    if whole.unaccounted_mg < 0:
        return text + " " + _("%(mass)s more was found than is accounted for.") % {"mass": lost}
    return text + " " + _("%(mass)s is unaccounted for.") % {"mass": lost}


def period_sankey(flows: list[Flow], title: str, finding: str, csv_url: str) -> Figure:
    """Draw the flows of a period; what runs back or round again ends in a place of its own."""
    drawn: list[DrawnFlow] = []
    names: dict[str, str] = {}
    roles: dict[str, str] = {}
    for flow in flows:
        role, target = ENDS.get(flow.target) or role_drawn(flow.role), flow.target
        if RANK.get(target, AT_THE_END) <= RANK.get(flow.source, BEFORE_ALL):
            target = f"{flow.target}, again"
            names[target] = _("%(place)s, again") % {"place": _place_words(flow.target)}
        names.setdefault(flow.source, _place_words(flow.source))
        names.setdefault(target, _place_words(target))
        if target not in RANK:
            roles[target] = role
        drawn.append(DrawnFlow(flow.source, target, flow.mass_mg, role))
    nodes = tuple(FlowNode(key, label, roles.get(key, "input")) for key, label in names.items())
    record = Flows(title, finding, nodes, tuple(_together(drawn)))
    rows = tuple(
        (
            _place_words(flow.source),
            _place_words(flow.target),
            word_for(flow.role, "role"),
            kg(flow.mass_mg),
        )
        for flow in flows
    )
    columns = (_("From"), _("To"), _("As"), _("Mass, kg"))
    svg = sankey_svg(record, mass_text, "flows-drawing")
    return Figure("flows", title, finding, svg, columns, rows, csv_url, record=record)


def _together(flows: list[DrawnFlow]) -> list[DrawnFlow]:
    """Add up flows between the same places in the same role."""
    sums: dict[tuple[str, str, str], int] = defaultdict(int)
    for flow in flows:
        sums[flow.source, flow.target, flow.role] += flow.mass_mg
    return [DrawnFlow(*key[:2], mass_mg, key[2]) for key, mass_mg in sums.items()]


def _place_words(place: str) -> str:
    """Say a place of the flows in words: a stage, an account, or a stock."""
    if place in STAGE_KEYS:
        return stage_said(STAGE_KEYS[place])
    if place == "Opening stock":
        return _("Opening stock")
    kind, _colon, role = place.partition(": ")
    if kind == "Stock" and role:
        return _("Stock: %(role)s") % {"role": word_for(ROLE_KEYS.get(role, role), "role")}
    return capfirst(said(place.lower(), "place"))
