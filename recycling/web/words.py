"""Words for the keys that pages show: forms, states, roles, hazards, and how a mass is known."""

from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

FORMS = {
    "bottles": _("bottles"),
    "clean_bottles": _("clean bottles"),
    "cut_pieces": _("cut pieces"),
    "caps": _("caps"),
    "rings": _("rings"),
    "labels": _("labels"),
    "reject": _("reject"),
    "flake": _("flake"),
    "oversize": _("oversize"),
    "fines": _("fines"),
    "dried_flake": _("dried flake"),
    "pellets": _("pellets"),
    "purge_compound": _("purge compound"),
    "heel": _("heel"),
    "changeover_scrap": _("changeover scrap"),
    "start_up_scrap": _("start-up scrap"),
    "filament": _("filament"),
    "offcuts": _("offcuts"),
    "product": pgettext_lazy("form", "product"),
    "spool": _("spool"),
    "run": _("run"),
}
STATES = {
    "open": _("open"),
    "in_process": _("in process"),
    "closed": _("closed"),
    "voided": _("voided"),
    "held": _("on hold"),
    "released": _("released"),
    "available": _("available"),
    "used_up": _("used up"),
    "waiting": _("waiting"),
    "due": _("due"),
    "late": _("late"),
    "sealed": _("sealed"),
    "opened": _("opened"),
    "good": _("good"),
    "bad": _("bad"),
    "gain": _("gain"),
    "loss": _("loss"),
    "unbalanced": _("does not balance"),
    "recalculating": _("being recalculated"),
    "draft": _("draft"),
    "frozen": _("frozen"),
    "failed": _("failed"),
}
ROLES = {
    "input": _("goes in"),
    "product": _("product"),
    "side": _("side stream"),
    "recirculate": _("goes round again"),
    "waste": _("waste"),
    "returned": _("back as it was"),
    "loss": _("loss"),
    "heel": _("heel"),
    "unaccounted": _("unaccounted"),
}
HAZARDS = {
    "heat": _("Heat"),
    "blades": _("Moving blades"),
    "solvents": _("Solvents"),
    "fumes": _("Fumes"),
    "dust": _("Dust"),
    "sharp": _("Sharp edges"),
    "electricity": _("Electricity"),
    "lifting": _("Lifting"),
}
MEMBERS = {"lead": _("lead"), "operator": _("operator"), "viewer": _("viewer")}
HOW_KNOWN = {
    "weighed": _("weighed"),
    "measured": _("measured"),
    "computed": _("computed"),
    "estimated": _("estimated"),
    "typed": _("typed"),
}


def role_name(role: str) -> str:
    return {
        "lead": gettext("lead: sets up, releases, voids"),
        "operator": gettext("operator: records"),
        "viewer": gettext("viewer: reads, judges spools"),
    }.get(role, role)
