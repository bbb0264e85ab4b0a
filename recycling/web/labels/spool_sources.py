"""Where a spool came from, as a picture and a table that anybody may see."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from recycling.figures.flows_svg import bars_svg
from recycling.records.drawings import Bar, Bars
from recycling.records.labels.spool_page import (
    BOUGHT,
    COUNTED,
    GROUP,
    NAMED,
    TRACES,
    UNNAMED,
    PublicSpool,
    SpoolSource,
)
from recycling.web.pages.figures import Figure
from recycling.web.templatetags.ledger import percent
from recycling.web.templatetags.look import mass_text

MOST_BARS = 8
GROUPS = {
    "school": gettext_lazy("schools"),
    "shop": gettext_lazy("shops"),
    "household": gettext_lazy("households"),
    "business": gettext_lazy("businesses"),
    "maker": gettext_lazy("makers"),
    "club": gettext_lazy("clubs"),
    "bin": gettext_lazy("collection bins"),
    "event": gettext_lazy("events"),
    "other": gettext_lazy("other places"),
}
SAID = {
    UNNAMED: gettext_lazy("bottles from sources that are not named"),
    BOUGHT: gettext_lazy("bought material"),
    COUNTED: gettext_lazy("stock from before the book"),
    TRACES: gettext_lazy("traces"),
}
ROLES = {NAMED: "product", GROUP: "product", UNNAMED: "side", TRACES: "unaccounted"}


def source_said(part: SpoolSource) -> str:
    """Name a part of a spool as far as it may be named."""
    if part.kind == NAMED:
        return part.name
    if part.kind == GROUP:
        group = GROUPS.get(part.name, GROUPS["other"])
        return _("%(count)d %(group)s") % {"count": part.sources, "group": group}
    return str(SAID[part.kind])


def sources_drawn(spool: PublicSpool) -> Figure | None:
    """Draw the parts of a spool, each with its share; None where nothing is known."""
    if not spool.sources:
        return None
    named = [(source_said(part), part) for part in spool.sources]
    bars = [
        Bar(f"{said} · {percent(part.share)}", part.mass_mg, ROLES.get(part.kind, "recirculate"))
        for said, part in named[:MOST_BARS]
    ]
    rest = named[MOST_BARS:]
    if rest:
        label = ngettext("%(count)d more", "%(count)d more", len(rest)) % {"count": len(rest)}
        bars.append(Bar(label, sum(part.mass_mg for _, part in rest), "recirculate"))
    title = _("What %(code)s is made of") % {"code": spool.code}
    first, part = named[0]
    finding = _("The largest part, %(share)s, is %(source)s.") % {
        "share": percent(part.share),
        "source": first,
    }
    svg = bars_svg(Bars(title, finding, tuple(bars)), words=mass_text, key="sources-drawing")
    columns = (_("Where it came from"), _("Share"), _("Mass"))
    rows = tuple((said, percent(part.share), mass_text(part.mass_mg)) for said, part in named)
    return Figure("sources", title, finding, svg, columns, rows)
