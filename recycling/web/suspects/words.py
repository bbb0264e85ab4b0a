"""The search for a cause in words: suspicion, never proof, and how many spools it rests on."""

from __future__ import annotations

from django.utils.formats import date_format, number_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from recycling.records.process import limits_missed
from recycling.records.process.deviations import Deviation
from recycling.records.suspects.affected import Affected, SuspectWay
from recycling.records.suspects.ranking import Candidate, LeftOut, Suspects, VerdictWanted
from recycling.stages.deviations import TITLES
from recycling.web.book_words import said, stage_said
from recycling.web.languages import in_language
from recycling.web.templatetags.ledger import percent
from recycling.web.templatetags.look import word_for

TRACE = 1e-4
"""Shares below this are said to be traces."""

LITTLE_BITS = 0.01
KINDS_SAID = {
    "origin": gettext_lazy("collections and purchases"),
    "lot": gettext_lazy("lots on the way"),
    "run": gettext_lazy("runs, as dryer batches"),
    "machine": gettext_lazy("machines"),
    "heel": gettext_lazy("heels of another polymer"),
    "open": gettext_lazy("time left open"),
    "limit": gettext_lazy("limits not kept"),
    "setting": gettext_lazy("bands of settings"),
    "deviation": gettext_lazy("what was unusual"),
}
STATES = {
    "no_verdicts": gettext_lazy("Nothing to go by"),
    "only_contradictory": gettext_lazy("Only contradictory verdicts"),
    "no_candidates": gettext_lazy("No candidates"),
    "only_good": gettext_lazy("Nothing to explain"),
    "only_bad": gettext_lazy("Nothing to compare with"),
    "no_contrast": gettext_lazy("Nothing tells them apart"),
    "too_little": gettext_lazy("Too little evidence"),
    "none_leads": gettext_lazy("No candidate stands out"),
    "undecided": gettext_lazy("Undecided"),
    "suspect": gettext_lazy("A suspicion"),
}


def spools(count: int) -> str:
    """Say a number of spools."""
    return ngettext("%(count)d spool", "%(count)d spools", count) % {"count": count}


def share(value: float | None) -> str:
    """Write a share in percent; one below a ten thousandth is a trace."""
    if value is None:
        return _("not known")
    return percent(value) if value >= TRACE else _("trace")


def chance(value: float) -> str:
    """Say a chance as a whole percentage, never rounded to none or to certainty."""
    if value > 0.99:
        return _("over 99 %")
    if value < 0.01:
        return _("under 1 %")
    return _("%(percent)d %%") % {"percent": round(100 * value)}


def worth(one: VerdictWanted) -> str:
    """Say what a further verdict would be worth."""
    facts = {"chance": chance(one.bad_chance), "gain": number_format(f"{one.gain_bits:.2g}")}
    if one.gain_bits < LITTLE_BITS:
        return _("bad with a chance of %(chance)s; it would tell next to nothing more") % facts
    return _("bad with a chance of %(chance)s; its verdict is worth %(gain)s bits") % facts


def main_words(found: Suspects) -> str:
    """Say how far the verdicts carry, in one or two sentences."""
    lead = found.rows[0] if found.rows else None
    facts = {
        "judged": spools(found.bad_spools + found.good_spools),
        "bad": found.bad_spools,
        "good": found.good_spools,
        "none": chance(found.none_posterior),
        "lead": chance(lead.posterior) if lead else "",
        "lead_bad": lead.exposed_bad if lead else 0,
        "lead_good": lead.exposed_good if lead else 0,
        "from": percent(found.priors.exposed_share),
    }
    return str(_sentence(found.state)) % facts


def _sentence(state: str) -> str:
    return {
        "no_verdicts": _(
            "No spool has a verdict that counts yet, so nothing can be said. Ask people how"
            " their spools printed: good ones help as much as bad ones."
        ),
        "only_contradictory": _(
            "Every judged spool was called both good and bad, so nothing can be said."
        ),
        "no_candidates": _("None of the judged spools holds any of what was asked about."),
        "only_good": _("All %(judged)s judged are good: there is nothing to explain."),
        "only_bad": _(
            "All %(judged)s judged are bad. Without a good one to compare with, what they have in"
            " common stands out only against the background that was assumed beforehand."
        ),
        "no_contrast": _(
            "All %(judged)s judged hold the same to the same degree, so the verdicts cannot tell"
            " one candidate from another, nor from the background."
        ),
        "too_little": _(
            "Too little evidence: %(judged)s judged, %(bad)d of them bad. The order below may"
            " change with the next verdict."
        ),
        "none_leads": _(
            "No candidate stands out: that none of these is to blame is the likeliest reading"
            " (posterior %(none)s). It rests on %(judged)s, %(bad)d of them bad."
        ),
        "undecided": _(
            "No single line carries the suspicion yet: the first has a posterior of %(lead)s,"
            " none of these %(none)s. It rests on %(judged)s, %(bad)d of them bad."
        ),
        "suspect": _(
            "Suspicion falls on the first line (posterior %(lead)s): %(from)s or more of"
            " %(lead_bad)d of %(bad)d bad and of %(lead_good)d of %(good)d good spools is from or"
            " through it."
        ),
    }[state]


def side_words(found: Suspects) -> list[str]:
    """Say what was left out, and what speaks against any single cause."""
    left, words = found.left_out, []
    if found.rows and len(found.rows[0].members) > 1:
        words.append(
            _("The first line is %(count)d candidates that no judged spool tells apart.")
            % {"count": len(found.rows[0].members)}
        )
    if found.by_shift:
        words.append(
            _(
                "Good and bad spools are parted by shifts and by nothing else that is recorded:"
                " what was done differs between them. Ask what was done, not who."
            )
        )
    if found.unlike_twins:
        words.append(
            _("%(spools)s judged good with the same exposures as a bad one.")
            % {"spools": spools(found.unlike_twins)}
        )
    return words + _left_out(left)


def _left_out(left: LeftOut) -> list[str]:
    lines = (
        (left.contradictory, _("%(spools)s called both good and bad: left out.")),
        (left.other_defects, _("%(spools)s bad for another reason alone: left out.")),
        (left.void, _("%(spools)s judged whose run was voided: left out.")),
    )
    words = [line % {"spools": spools(count)} for count, line in lines if count]
    if left.waiting:
        words.append(
            ngettext(
                "%(count)d verdict waits to be looked at and does not count yet.",
                "%(count)d verdicts wait to be looked at and do not count yet.",
                left.waiting,
            )
            % {"count": left.waiting}
        )
    return words


def candidate_said(one: Candidate | Affected | SuspectWay) -> str:
    """Say what a candidate is, without its code."""
    if one.kind == "lot":
        return str(word_for(one.name, "form"))
    if one.kind == "run":
        return stage_said(one.name)
    if one.kind == "origin":
        return said(one.name, "origin")
    if one.kind == "machine":
        return _("machine %(name)s") % {"name": one.name}
    if one.kind == "heel":
        return _("extruded after a heel of %(polymer)s") % {"polymer": one.name}
    if one.kind == "deviation":
        return _(TITLES.get(one.name, one.name))
    if one.kind == "open":
        return _open_said(one.name)
    if one.kind == "limit":
        return _limit_said(one.name)
    return one.name


def _limit_said(kind: str) -> str:
    return {
        limits_missed.SHORT: _("dried too short for its recipe"),
        limits_missed.HOT: _("dried hotter than its recipe allows"),
        limits_missed.MOIST: _("moisture above its limit"),
        limits_missed.WET: _("too moist at the feed"),
        limits_missed.OUTSIDE: _("melted outside its temperature range"),
    }.get(kind, kind)


def _open_said(band: str) -> str:
    if band == "not recorded":
        return _("fed without a record of how it was kept after drying")
    return _("open %(band)s after drying") % {"band": band}


def candidate_named(one: Candidate | Affected | SuspectWay) -> str:
    """Name a candidate with its code, in one line of plain text."""
    words = candidate_said(one)
    return f"{one.code} {words}" if one.code else words


def deviation_said(one: Deviation) -> str:
    """Say a deviation in one sentence."""
    if one.said:
        return in_language(one.said)
    facts = {"label": one.label, "value": one.value, "limit": one.limit, "lot": one.lot}
    sentences = {
        "check": _("%(label)s was %(value)s; the limit is %(limit)s.")
        if one.limit
        else _("%(label)s was %(value)s: outside its limit."),
        "diameter": _("%(label)s was %(value)s; the spool is to be %(limit)s."),
        "open run": _("The run is not closed: what it gave and lost is not settled."),
        "balance": _(
            "%(value)s is unaccounted for, as a %(label)s; weighing explains up to %(limit)s."
        ),
        "left open": _("%(lot)s lay open for %(value)s after drying; %(limit)s is usual."),
        "not recorded": _("How %(lot)s was kept between drying and feeding is not recorded."),
        "heel": _("%(value)s of a heel of %(label)s was in the barrel of a run of %(limit)s."),
    }
    if one.kind == "balance":
        facts["label"] = str(word_for(one.label, "state"))
    return sentences[one.kind] % facts


def day(moment: object) -> str:
    """Write the day of a moment, a dash for none."""
    return date_format(localtime(moment), "SHORT_DATE_FORMAT") if moment else "–"  # type: ignore[arg-type]
