"""How the workshop works now: its limits, windows and recipes, or the first settings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType

from recycling.calc.balance.known_masses import Assumed
from recycling.calc.balance.usual_loss import Bounds
from recycling.calc.process.changeover import Pace
from recycling.calc.process.temperature_ranges import Window
from recycling.models import Barrel, Lot, MaterialData, Practice, ProcessingWindow
from recycling.records.actors import Actor
from recycling.records.setup.first_limits import FIRST_MATERIALS, FIRST_WINDOWS
from recycling.records.setup.first_settings import PRACTICES
from recycling.records.setup.machines import BarrelRow
from recycling.records.setup.practice import MaterialRow, PracticeRow, WindowRow

HEEL_IS_HOLDUP = "computed: the heel that is in it"


def practices(actor: Actor) -> list[PracticeRow]:
    """List the limits and habits that hold now."""
    own = practice_rows(actor.workshop_id)
    return [own[field.key] for field in PRACTICES]


def practice_rows(workshop_id: int) -> dict[str, PracticeRow]:
    """Map each limit's key to what holds now; the newest entry counts."""
    rows = Practice.objects.filter(workshop_id=workshop_id).order_by("pk")
    return practice_over(rows.values_list("key", "value", "source"))


def practice_over(entered: Iterable[tuple[str, float, str]]) -> dict[str, PracticeRow]:
    """Lay what a workshop entered, key, value and source in order, over the first settings."""
    own = {key: (value, source) for key, value, source in entered}
    found = {}
    for field in PRACTICES:
        value, source = own.get(field.key, (field.value, field.source))
        found[field.key] = PracticeRow(
            field.key, field.label, field.unit, value, source, field.key in own
        )
    return found


def practice_value(workshop_id: int, key: str) -> float:
    """Give one limit as it holds now."""
    return practice_rows(workshop_id)[key].value


def assumed_by(rows: Mapping[str, PracticeRow]) -> Assumed:
    """Give what a workshop assumes of a mass of which nothing better is known."""
    return Assumed(
        rows["counted_u_percent"].value / 100,
        rows["estimated_u_percent"].value / 100,
        max(round(rows["no_scale_step_g"].value * 1000), 1),
    )


def bounds_by(rows: Mapping[str, PracticeRow]) -> Bounds:
    """Give where the states of a run's closure end."""
    usual_sd, open_sd = rows["usual_sd"].value, rows["open_sd"].value
    return Bounds(rows["within_u"].value, usual_sd, max(usual_sd, open_sd))


def pace_by(rows: Mapping[str, PracticeRow]) -> Pace:
    """Give how fast machines heat, cool and are fed."""
    return Pace(
        rows["heat_k_per_min"].value,
        rows["cool_k_per_min"].value,
        rows["wait_min"].value,
        rows["wash_g_per_min"].value,
        rows["creep_g_per_min"].value,
        rows["freeze_percent"].value / 100,
    )


def windows(actor: Actor) -> list[WindowRow]:
    """List the processing windows that hold now, polymers first."""
    return sorted(window_rows(actor.workshop_id).values(), key=lambda one: (one.kind, one.material))


def window_rows(workshop_id: int) -> dict[str, WindowRow]:
    """Map each material to its window; the newest entry counts."""
    found = {one.material: one for one in FIRST_WINDOWS}
    rows = ProcessingWindow.objects.filter(workshop_id=workshop_id).order_by("pk")
    columns = ("material", "kind", "low_c", "high_c", "source")
    for row in rows.values_list(*columns):
        found[row[0]] = WindowRow(*(*row, True))
    return found


def as_window(row: WindowRow, melting_c: Mapping[str, float] = MappingProxyType({})) -> Window:
    """Give a window as the calculations take it, with its melting point where one is known."""
    return Window(row.material, row.low_c, row.high_c, melting_c.get(row.material))


def melting_points(workshop_id: int) -> dict[str, float]:
    """Map each polymer to its melting point, °C; a workshop's own figure counts first."""
    rows = [material_rows(workshop_id, kind) for kind in ("heats", "limits")]
    found = {}
    for own in (False, True):
        for kind in rows:
            for polymer, row in kind.items():
                if row.own == own and "melting_c" in row.values:
                    found[polymer] = row.values["melting_c"]
    return found


def materials(actor: Actor, kind: str) -> list[MaterialRow]:
    """List recipes or properties of one kind by polymer."""
    rows = material_rows(actor.workshop_id, kind)
    return [rows[polymer] for polymer in sorted(rows)]


def material_rows(workshop_id: int, kind: str) -> dict[str, MaterialRow]:
    """Map each polymer to its numbers of one kind; the newest entry counts."""
    rows = MaterialData.objects.filter(workshop_id=workshop_id, kind=kind).order_by("pk")
    return material_over(kind, rows.values_list("polymer", "values", "source"))


def material_over(
    kind: str, own: Iterable[tuple[str, dict[str, float], str]]
) -> dict[str, MaterialRow]:
    """Put a workshop's own numbers of one kind, the oldest first, over the first settings."""
    found = {one.polymer: one for one in FIRST_MATERIALS if one.kind == kind}
    for polymer, values, source in own:
        found[polymer] = MaterialRow(polymer, kind, values, source, own=True)
    return found


def needs_drying_of(actor: Actor) -> Callable[[str], bool | None]:
    """Give what says of a polymer whether this workshop must dry it; see `needs_drying_by`."""
    return needs_drying_by(actor.workshop_id)


def needs_drying_by(workshop_id: int) -> Callable[[str], bool | None]:
    """Give what says of a polymer whether it must be dried before it melts; None: not known.

    A polymer that takes up water needs it; where nobody said, one with a recipe does.
    """
    limits, recipes = material_rows(workshop_id, "limits"), material_rows(workshop_id, "drying")

    def needs(polymer: str) -> bool | None:
        if polymer in limits:
            return bool(limits[polymer].values["hygroscopic"])
        return True if polymer in recipes else None

    return needs


def waterless(workshop_id: int) -> frozenset[str]:
    """List polymers that take up no water: they need no drying and no clock runs for them."""
    rows = material_rows(workshop_id, "limits").items()
    return frozenset(polymer for polymer, row in rows if not row.values["hygroscopic"])


def barrel_of(machine_id: int) -> BarrelRow | None:
    """Give a machine's hold-up: what was entered, else the mass of the heel in it, else none."""
    row = Barrel.objects.filter(machine_id=machine_id).order_by("-pk").first()
    if row is not None:
        return BarrelRow(row.holdup_g, row.plug_share, row.tanks, row.source)
    heel = Lot.objects.filter(
        machine_id=machine_id, form="heel", account__balance_mg__gt=0
    ).order_by("-number")
    mass_mg = heel.values_list("account__balance_mg", flat=True).first()
    return BarrelRow(mass_mg / 1000, 0.0, 1, HEEL_IS_HOLDUP) if mass_mg else None
