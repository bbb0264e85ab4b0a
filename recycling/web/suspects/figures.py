"""From what was found to what is drawn: exposures, the curve, and the way of a suspect's share."""

from __future__ import annotations

from django.utils.translation import gettext as _

from recycling.calc.suspects.priors import SuspectPriors
from recycling.figures.exposure_svg import curve_svg, side_by_side_svg
from recycling.figures.lineage_svg import lineage_svg
from recycling.records.drawings import (
    Bin,
    Curve,
    DrawnFlow,
    DrawnLot,
    DrawnRun,
    Lineage,
    SideBySide,
)
from recycling.records.suspects.affected import SuspectWay, WayPlace
from recycling.records.suspects.ranking import JudgedSpool, Suspects
from recycling.web.book_words import stage_said
from recycling.web.pages.figures import Figure, role_drawn
from recycling.web.pages.read import code_url
from recycling.web.suspects.words import candidate_named, day, spools
from recycling.web.templatetags.ledger import percent
from recycling.web.templatetags.look import mass_text, word_for

LEAST_DRAWN = 0.001
"""Lots that hold less of a suspect are in the table only."""

LONGEST_WORDS = 12
BANDS = ((0.5, 1.01), (0.2, 0.5), (0.1, 0.2), (0.05, 0.1), (0.01, 0.05), (1e-9, 0.01))


def _band_words(low: float, high: float) -> str:
    if high > 1:
        return _("over 50 %")
    if low < 0.01:
        return _("under 1 %")
    return _("%(low)g to %(high)g %%") % {"low": 100 * low, "high": 100 * high}


def _count(judged: tuple[JudgedSpool, ...], low: float, high: float, standing: str) -> int:
    return sum(1 for one in judged if one.standing == standing and low <= (one.share or 0) < high)


def exposures(found: Suspects, csv_url: str = "") -> Figure:
    """Draw how much of the first line good and bad spools hold, side by side."""
    lead = found.rows[0].members[0]
    bins = [
        Bin(
            _band_words(low, high),
            _count(found.spools, low, high, "good"),
            _count(found.spools, low, high, "bad"),
        )
        for low, high in BANDS
    ]
    none = [_count(found.spools, 0, 1e-9, standing) for standing in ("good", "bad")]
    bins.append(Bin(_("none of it"), *none))
    with_it = [sum(one.good for one in bins[:-1]), sum(one.bad for one in bins[:-1])]
    finding = _("%(bad)d of %(all_bad)d bad and %(good)d of %(all_good)d good spools hold it.") % {
        "bad": with_it[1],
        "all_bad": found.bad_spools,
        "good": with_it[0],
        "all_good": found.good_spools,
    }
    title = _("Share of %(candidate)s in good and bad spools") % {
        "candidate": candidate_named(lead)
    }
    drawn = SideBySide(title, finding, _("good"), _("bad"), tuple(bins))
    rows = tuple((one.label, str(one.good), str(one.bad)) for one in bins)
    columns = (_("Share"), _("Good spools"), _("Bad spools"))
    svg = side_by_side_svg(drawn, "exposures-drawing")
    return Figure("exposures", title, finding, svg, columns, rows, csv_url)


def curve(priors: SuspectPriors) -> str:
    """Draw the exposure curve."""
    finding = _(
        "From %(share)s of a spool on, more of a suspect makes no difference; below that the"
        " exposure falls off. This is an assumption, not a law."
    ) % {"share": percent(priors.full_share)}
    drawn = Curve(
        _("Exposure curve"),
        finding,
        _("share of the spool"),
        _("exposure"),
        priors.full_share,
        priors.curve_power,
    )
    return curve_svg(drawn, "curve-drawing")


def way_finding(way: SuspectWay) -> str:
    """Say how far a suspect's share came."""
    ends = [lot for lot in way.lots if lot.code.startswith("S")]
    if way.spool:
        share = next((lot.share for lot in ends if lot.code == way.spool), 0.0)
        return _("%(share)s of %(spool)s is of it.") % {
            "share": percent(share),
            "spool": way.spool,
        }
    return _("It reached %(spools)s by way of %(lots)d lots in all.") % {
        "spools": spools(len(ends)),
        "lots": len(way.lots),
    }


def drawn_lots(way: SuspectWay) -> list[WayPlace]:
    """Give the lots whose share is large enough to be drawn, and the spool at the end."""
    return [lot for lot in way.lots if lot.share >= LEAST_DRAWN or lot.code == way.spool]


def _lot_words(lot: WayPlace) -> str:
    """Give the form and the share, the form alone where it is long and its shape says it."""
    words = f"{word_for(lot.form, 'form')} {percent(lot.share)}"
    return words if len(words) <= LONGEST_WORDS else percent(lot.share)


def way_drawing(slug: str, way: SuspectWay) -> str:
    """Draw the lineage of a suspect's share: lines as wide as the root of its mass in them."""
    lots = tuple(
        DrawnLot(
            lot.code,
            "spool" if lot.code.startswith("S") else lot.form,
            _lot_words(lot),
            lot.part_mg,
            lot.held,
        )
        for lot in drawn_lots(way)
    )
    shown = {lot.code for lot in lots}
    flowing = [flow for flow in way.flows if flow.lot in shown and flow.share >= LEAST_DRAWN]
    met = {flow.run for flow in flowing}
    runs = tuple(
        DrawnRun(run.code, stage_said(run.stage), day(run.at))
        for run in way.runs
        if run.code in met
    )
    flows = tuple(
        DrawnFlow(flow.lot, flow.run, flow.part_mg, "input")
        if flow.direction == "in"
        else DrawnFlow(flow.run, flow.lot, flow.part_mg, role_drawn(flow.role))
        for flow in flowing
    )
    title = _("Way of %(candidate)s") % {"candidate": candidate_named(way)}
    codes = [lot.code for lot in lots]
    focus = way.spool or (way.code if way.code in codes else next(iter(codes), ""))
    drawn = Lineage(title, way_finding(way), lots, runs, flows, focus)
    return lineage_svg(drawn, url=lambda code: code_url(slug, code), words=mass_text)
