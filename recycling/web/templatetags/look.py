"""Filters and block tags of the look: masses by locale, words and shapes for keys, tables."""

from decimal import ROUND_HALF_EVEN, Decimal

from django import template
from django.template import Context
from django.utils.formats import number_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from recycling.figures.shapes import LINES, SHAPES, SIGNS, shape_key
from recycling.web import words

register = template.Library()

MG_IN_G, MG_IN_KG = 1_000, 1_000_000
NO_BREAK = "\u00a0"


def _figure(value: Decimal, places: int) -> str:
    exact = value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)
    said = number_format(exact + 0, decimal_pos=places, use_l10n=True, force_grouping=True)
    return said.replace("-", "−")


@register.filter
def kg(mass_mg: int | None, places: int = 3) -> str:
    """Show whole milligrams as a bare figure in kilograms, for a column headed kg."""
    return "–" if mass_mg is None else _figure(Decimal(mass_mg) / MG_IN_KG, int(places))


@register.filter
def kg_with(mass_mg: int | None, u_mass_mg: int | None) -> str:
    """Show a figure in kilograms to the place of the second digit of its uncertainty."""
    if mass_mg is None or not u_mass_mg:
        return kg(mass_mg)
    places = max(1 - Decimal(f"{u_mass_mg / MG_IN_KG:.1e}").adjusted(), 0)
    return ("−" if mass_mg < 0 else "") + kg(abs(mass_mg), places)


@register.filter
def mass_text(mass_mg: int | None) -> str:
    """Show whole milligrams with the unit that reads best: 4.310 kg, 212 g, 0.35 g."""
    if mass_mg is None:
        return "–"
    size, minus = abs(mass_mg), "−" if mass_mg < 0 else ""
    if size >= MG_IN_KG - MG_IN_G // 2:
        return f"{minus}{kg(size)}{NO_BREAK}kg"
    places = 0 if size >= 100 * MG_IN_G else 1 if size >= 10 * MG_IN_G else 2
    places = 3 if 0 < size < 10 else places
    return f"{minus}{_figure(Decimal(size) / MG_IN_G, places)}{NO_BREAK}g"


@register.filter
def uncertainty_text(u_mass_mg: int | None) -> str:
    """Show what stands behind ± with two significant digits: 0.35 g, 2.0 g, 35 g."""
    if not u_mass_mg:
        return mass_text(u_mass_mg)
    unit, divisor = ("kg", MG_IN_KG) if abs(u_mass_mg) >= MG_IN_KG else ("g", MG_IN_G)
    value = Decimal(u_mass_mg) / divisor
    places = max(1 - value.adjusted(), 0)
    return f"{_figure(value, places)}{NO_BREAK}{unit}"


@register.filter
def shape_id(word: str) -> str:
    """Give the sprite's id of a lot form, `form-run` for what has no shape of its own."""
    key = shape_key(str(word))
    return "form-" + (key if key in SHAPES else "run").replace("_", "-")


@register.filter
def sign_id(word: str) -> str:
    """Give the sprite's id of a state or hazard, a plain dot for an unknown one."""
    key = shape_key(str(word))
    return "sign-" + (key if key in SIGNS else "other").replace("_", "-")


@register.filter
def role_line(word: str) -> object:
    """Give the line style of a role; an unknown role is drawn as what goes in."""
    return LINES.get(shape_key(str(word)), LINES["input"])


@register.filter
def dashes(line: object, width: float) -> str:
    """Give the dash pattern of a line style at this width."""
    return line.dash_array(float(width))  # type: ignore[attr-defined]


@register.filter
def word_for(key: str, kind: str) -> str:
    """Say a key in words: kind is form, state, role, hazard, how or member."""
    tables = {
        "form": words.FORMS,
        "state": words.STATES,
        "role": words.ROLES,
        "hazard": words.HAZARDS,
        "how": words.HOW_KNOWN,
        "member": words.MEMBERS,
    }
    return str(tables[kind].get(shape_key(str(key)), str(key).replace("_", " ")))


@register.filter
def hyphens(key: str) -> str:
    """Turn a key into the part of a class name: side to side-stream."""
    return shape_key(str(key)).replace("_", "-")


def _inside(context: Context, name: str, values: dict[str, str]) -> SafeString:
    """Render a component with the engine of the page that it stands in."""
    if context.template is None:
        raise template.TemplateSyntaxError(
            "a block tag stands in a template that is being rendered"
        )
    return context.template.engine.render_to_string(f"components/{name}.html", values)


@register.simple_block_tag(takes_context=True, end_name="end_ledger_table")
def ledger_table(
    context: Context, content: str, caption: str, csv_url: str = "", note: str = ""
) -> SafeString:
    inside = {"content": content, "caption": caption, "csv_url": csv_url, "note": note}
    return _inside(context, "table", inside)


@register.simple_block_tag(takes_context=True, end_name="end_panel")
def panel(context: Context, content: str, title: str = "", tone: str = "") -> SafeString:
    inside = {"content": content, "title": title, "tone": tone}
    return _inside(context, "panel", inside)


@register.simple_block_tag(takes_context=True, end_name="end_group")
def group(context: Context, content: str, legend: str, hint: str = "") -> SafeString:
    inside = {"content": content, "legend": legend, "hint": hint}
    return _inside(context, "group", inside)


@register.simple_tag
def caution_food() -> str:
    """Say the sentence that every page and spool carries."""
    return gettext("Recycled filament is never for food contact, mouthing toys or medical use.")
