"""Words of the energy pages for keys of the book, and what is shown of figures."""

from __future__ import annotations

from django.utils.translation import gettext as _

from recycling.records.energy.figures import RunEnergyRecord

HOT = ("dryer", "extruder")


def phase_said(kind: str) -> str:
    return {"warm-up": _("warm-up"), "purge": _("purge"), "standby": _("standby")}.get(kind, kind)


def fell_said(why: str) -> str:
    """Say why a counter shows less than before."""
    return {
        "replaced": _("The meter was replaced"),
        "set to zero": _("It was set to zero"),
        "ran over": _("It ran over its last digit and began again"),
    }.get(why, why)


def part_said(kind: str) -> str:
    return {
        "heater": _("heater"),
        "motor": _("motor"),
        "fan": _("fan"),
        "pump": _("pump"),
        "other": _("other"),
    }.get(kind, kind)


def method_said(method: str) -> str:
    return {
        "meter reading": _("measured: meter reading"),
        "power log": _("measured: power log"),
        "rated power": _("estimated: rated power × duty × logged time"),
        "": _("no log"),
    }.get(method, method)


def sure_said(energy: RunEnergyRecord) -> str:
    """Say what the ± of a run's energy rests on, where that stands, and what it leaves out."""
    if energy.overhead:
        return _("%(sure)s; how sure the masses are that share the rest is left out") % {
            "sure": _sure_of(energy)
        }
    return _sure_of(energy)


def _sure_of(energy: RunEnergyRecord) -> str:
    said = {"percent": f"{energy.u_percent or 0:g}", "source": energy.u_source}
    if energy.u_basis == "share":
        return (
            _("± covers 95 %%, from a standard uncertainty of %(percent)s %% of it (%(source)s)")
            % said
        )
    if energy.u_basis == "class":
        return (
            _("± covers 95 %%, from readings, gaps, and a meter of class %(percent)s (%(source)s)")
            % said
        )
    return _("± covers 95 %, from readings and gaps; nobody entered the meter's class")


def file_state_said(state: str) -> str:
    return {
        "looking": _("being looked through"),
        "looked": _("looked through, not taken"),
        "taking": _("being taken"),
        "taken": _("taken"),
        "failed": _("cannot be read"),
    }.get(state, state)


def file_kind_said(kind: str) -> str:
    return {
        "power": _("power samples"),
        "counter": _("readings of a counter"),
        "interval": _("energy of each interval"),
    }.get(kind, kind)
