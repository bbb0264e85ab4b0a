"""What must hold of a thing that entries refer to, when it is set up and when it is changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.db.models import Model

from recycling.keeping.texts import check_text
from recycling.keeping.weighing_rules import check_mass
from recycling.models import Container, Machine, Polymer, Programme, Scale, Source
from shared.errors import Collected
from shared.said import say
from shared.texts import is_blank, no_code_sign

Values = Mapping[str, Any]
MODELS: dict[str, type[Model]] = {
    "source": Source,
    "programme": Programme,
    "machine": Machine,
    "scale": Scale,
    "container": Container,
    "polymer": Polymer,
}
OF_PEOPLE = {"source": ("name", "note")}
"""What may tell of a person, and is therefore no part of a history that cannot be changed."""


def check_set_up(
    workshop_id: int, what: str, values: Values, found: Collected, itself: int | None = None
) -> None:
    """Note every problem of a thing's values; `itself` is the row that is changed, if any."""
    CHECKS[what](values, found)
    name = "code" if what == "polymer" else "name"
    if is_blank(values[name]):
        found.add("name-missing", "Give it a name.", f"/{name}")
    check_text(values[name], f"/{name}", found, 20 if what == "polymer" else 80)
    for key, longest in (("note", 500), ("funder", 120), ("name", 120)):
        if key != name and key in values:
            check_text(values[key], f"/{key}", found, longest)
    rows = MODELS[what]._default_manager.filter(workshop_id=workshop_id).exclude(pk=itself)
    if rows.filter(**{f"{name}__iexact": values[name]}).exists():
        found.add(
            "name-taken",
            say("There is a {what} “{values}” already.", what=what, values=values[name]),
            f"/{name}",
        )


def _source(values: Values, found: Collected) -> None:
    if values["kind"] not in Source.KINDS:
        found.add("kind-unknown", say("One of {kinds}.", kinds=", ".join(Source.KINDS)), "/kind")


def _programme(values: Values, found: Collected) -> None:
    starts, ends = values["starts_date"], values["ends_date"]
    if starts and ends and ends < starts:
        found.add("end-before-start", "The end is before the start.", "/ends_date")
    if values["target_mg"] is not None:
        check_mass(values["target_mg"], "/target_mg", found)


def _machine(values: Values, found: Collected) -> None:
    if values["kind"] not in Machine.KINDS:
        found.add("kind-unknown", say("One of {kinds}.", kinds=", ".join(Machine.KINDS)), "/kind")


def _scale(values: Values, found: Collected) -> None:
    check_mass(values["interval_mg"], "/interval_mg", found)
    check_mass(values["capacity_mg"], "/capacity_mg", found)
    if not found.any and values["capacity_mg"] <= values["interval_mg"]:
        found.add("capacity-wrong", "The capacity must be above the interval.", "/capacity_mg")
    if values["accuracy_class"] not in Scale.CLASSES:
        found.add(
            "class-unknown",
            say("One of {classes}.", classes=", ".join(Scale.CLASSES)),
            "/accuracy_class",
        )


def _container(values: Values, found: Collected) -> None:
    check_mass(values["tare_mg"], "/tare_mg", found)


def _polymer(values: Values, found: Collected) -> None:
    if no_code_sign(values["code"]):
        found.add("code-wrong", "A code is made of letters, digits and hyphens.", "/code")
    if values["resin_code"] is not None and not 1 <= values["resin_code"] <= 7:
        found.add("number-out-of-bounds", "From 1 to 7.", "/resin_code")
    if values["density_g_cm3"] is not None and not 0.5 <= values["density_g_cm3"] <= 3:
        found.add("number-out-of-bounds", "From 0.5 to 3 g/cm³.", "/density_g_cm3")
    check_text(values["density_source"], "/density_source", found, 200)


CHECKS: dict[str, Callable[[Values, Collected], None]] = {
    "source": _source,
    "programme": _programme,
    "machine": _machine,
    "scale": _scale,
    "container": _container,
    "polymer": _polymer,
}
