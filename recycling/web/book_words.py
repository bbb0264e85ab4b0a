"""Words of the reading pages for keys of the book: postings, places, accounts, stages, kinds."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.utils import formats, timezone
from django.utils.functional import Promise
from django.utils.translation import gettext, ngettext, pgettext
from django.utils.translation import gettext_lazy as _

from recycling import stages
from recycling.records.planning import DriedLot
from recycling.web.templatetags.look import mass_text, word_for

POSTINGS = {
    "receive": _("weighed in"),
    "run": _("recorded"),
    "draw": _("drawn"),
    "output": _("given"),
    "loss": _("lost"),
    "close": _("closed"),
    "count": _("counted"),
    "restate": _("recounted"),
    "correct": _("corrected"),
    "rechain": _("another heel taken in"),
    "void": _("voided"),
}
ACCOUNTS = {
    "lot": _("lot"),
    "process": _("work in process"),
    "received": _("received"),
    "dispatched": _("dispatched"),
    "discarded": _("discarded"),
    "water": _("water"),
    "residue": _("residue"),
    "dust": _("dust"),
    "volatiles": _("volatiles"),
    "unaccounted": _("unaccounted"),
}
PLACES = {
    "in spools": _("in spools"),
    "in stock": _("in stock"),
    "in side streams": _("in side streams"),
    "in process": _("in process"),
    "waste": _("waste in stock"),
    "traces": _("traces too small to follow"),
    **ACCOUNTS,
}
PLACE_ROLES = {
    "in spools": "product",
    "in stock": "input",
    "in side streams": "side",
    "in process": "input",
    "waste": "waste",
    "dispatched": "side",
    "discarded": "waste",
    "unaccounted": "unaccounted",
    "traces": "unaccounted",
}
"""Place of a fate → line style it is drawn in; what is not named is a loss."""

ORIGINS = {
    "collection": _("collection"),
    "purchase": _("purchase"),
    "opening": _("opening count"),
}
EVENTS = {
    "sealed": _("sealed"),
    "opened": _("opened"),
    "moved": _("moved"),
    "printed": _("printed from"),
    "note": _("note"),
}
MODELS = {
    "well mixed": _("well mixed: every output has the same make-up as all that went in"),
    "feed order": _("feed order: what was fed first comes out first, with washout of the barrel"),
    "order not known": _("order not known: well mixed of what was fed by then"),
    "stated order": _("stated order: a person said in which order, no times tell it"),
}
RESTS_ON = {
    "feed order": _("feed order"),
    "stated order": _("stated order"),
    "order not known": _("order not known"),
    "well mixed": _("well mixed, as a person chose"),
}
CUSTODY = {
    "identity preserved": _("all of it is from one origin, and it was never mixed with another"),
    "segregated": _("only collected material of the same kind was mixed"),
    "controlled blending": _("material of different kinds was mixed, and every share is known"),
    "mass balance": _("the share is claimed over a period, not for this lot"),
}
CLOSES = {
    "closed within weighing": _("balances"),
    "usual": _("balances, as usual here"),
    "to look at": _("check it"),
    "open": _("does not balance"),
}
BASES = {
    "weighed": _("weighed"),
    "counted": _("counted"),
    "estimated": _("estimated"),
    "by book": _("as the book has it"),
}
DEFECTS = {
    "brittle": _("brittle"),
    "bubbles or stringing from moisture": _("bubbles or stringing from moisture"),
    "diameter out of tolerance": _("diameter out of tolerance"),
    "clogged nozzle": _("clogged nozzle"),
    "foreign particles": _("foreign particles"),
    "poor layer bonding": _("poor layer bonding"),
    "discoloured": _("discoloured"),
}
FACTS = {
    "source": _("Source"),
    "programme": _("Programme"),
    "supplier": _("Supplier"),
    "document": _("Document"),
    "consent": _("Consent"),
    "received_by": _("Received by"),
    "note": _("Note"),
    "form": _("What it is"),
    "role": _("Role in its run"),
    "colour": _("Colour"),
    "count": _("Pieces"),
    "diameter_mm": _("Diameter, mm"),
    "tolerance_mm": _("Tolerance, mm"),
    "length_m": _("Length, m"),
    "tare_mg": _("Empty spool"),
    "operators": _("Who worked"),
    "started_at": _("Started"),
    "state": _("State"),
    "composition_model": _("Origins computed as"),
}
FIGURES = {
    "drawn": _("drawn"),
    "given": _("given"),
    "counted": _("counted"),
    "on hand": _("on hand"),
}
RUN_STATES = {"open": _("open"), "closed": _("closed"), "void": _("voided")}
TABLES: Mapping[str, Mapping[str, Promise]] = {
    "posting": POSTINGS,
    "account": ACCOUNTS,
    "place": PLACES,
    "origin": ORIGINS,
    "event": EVENTS,
    "model": MODELS,
    "rests_on": RESTS_ON,
    "custody": CUSTODY,
    "defect": DEFECTS,
    "closes": CLOSES,
    "basis": BASES,
    "fact": FACTS,
    "state": RUN_STATES,
    "figure": {**ACCOUNTS, **FIGURES},
}


def said(key: str, kind: str) -> str:
    """Say a key in words; one that has no words here is said as it is."""
    return str(TABLES[kind].get(key, key.replace("_", " ")))


def stage_said(key: str) -> str:
    """Say a stage by its declared title."""
    declared = stages.stage(key)
    return pgettext("stage", declared.title) if declared else key


def above_limit(key: str, check: str) -> str:
    """Say of a check of a stage that it is above its limit, and what to do."""
    declared = stages.stage(key)
    field = declared.check(check) if declared else None
    if field is None or field.limit is None:
        return gettext("outside its limit")
    return gettext("above the limit of %(limit)g %(unit)s: %(remedy)s") % {
        "limit": field.limit,
        "unit": field.unit,
        "remedy": gettext(field.remedy),
    }


def fact_said(fact: str) -> str:
    """Say which fact was changed; "zone_1_c, when" is the time of a check or a setting."""
    key, _comma, part = fact.partition(", ")
    if key.startswith("fed "):
        return gettext("Refill of %(lot)s") % {"lot": key.removeprefix("fed ")}
    fields = (one for each in stages.STAGES for one in (*each.checks, *each.settings))
    labels = {one.key: one.label for one in fields}
    name = str(FACTS.get(key) or gettext(labels.get(key, key)))
    if part == "when":
        return gettext("%(name)s, when") % {"name": name}
    return gettext("%(name)s, what was seen") % {"name": name} if part else name


def fact_value_said(fact: str, value: str) -> str:
    """Say what a fact was or became, times in the workshop's zone."""
    if not value:
        return "–"
    if fact.endswith(("_at", ", when")) or fact.startswith("fed "):
        moment = timezone.localtime(datetime.fromisoformat(value))
        return formats.date_format(moment, "SHORT_DATETIME_FORMAT")
    if fact.endswith("_mg"):
        return mass_text(int(value))
    if fact == "form":
        return str(word_for(value, "form"))
    kinds = {"composition_model": "model", "state": "state"}
    return said(value, kinds[fact]) if fact in kinds else value


def keeps_heel(key: str) -> bool:
    """Tell whether a heel stays from one run of a stage to the next."""
    declared = stages.stage(key)
    return declared is not None and declared.keeps_heel


def open_said(dried: DriedLot) -> str:
    """Say how long a dried lot lay open, against its limit."""
    if dried.over:
        return gettext("open %(open)s, limit %(limit)s: dry it again") % _span(dried)
    return gettext("open %(open)s, limit %(limit)s") % _span(dried)


def _span(dried: DriedLot) -> dict[str, str]:
    return {"open": hours_said(dried.open_h), "limit": hours_said(dried.limit_h)}


def hours_said(hours: float) -> str:
    """Say a stretch of time: in minutes below two hours, else in hours or days."""
    minutes = round(hours * 60)
    if minutes < 120:
        return gettext("%d min") % minutes
    if minutes < 48 * 60:
        return gettext("%d h") % (minutes // 60)
    days = minutes // 1440
    return ngettext("%d day", "%d days", days) % days
