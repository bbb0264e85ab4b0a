"""Pieces of SVG text: escaped, without style attributes, whole without a style sheet.

Colours stand as presentation attributes for paper and for a file on its own; classes let a page's
style sheet put its own colours over them.
"""

from __future__ import annotations

from html import escape

from recycling.figures.shapes import LINES, LineStyle
from shared.texts import sure

INK, SOFT, HAIR = "#14201f", "#465452", "#c3cecb"
MG_IN_KG, MG_IN_G = 1_000_000, 1_000
NARROWEST_DOUBLE = 4.0


def text_of(mass_mg: int) -> str:
    """Return a mass in plain digits with its unit, for callers that give no wording of their own.

    Examples
    --------
    >>> text_of(4_310_000), text_of(212_000), text_of(-3_400)
    ('4.310 kg', '212 g', '-3.4 g')
    """
    if abs(mass_mg) >= MG_IN_KG:
        return f"{mass_mg / MG_IN_KG:.3f} kg"
    return f"{mass_mg / MG_IN_G:.{0 if abs(mass_mg) >= 100 * MG_IN_G else 1}f} g"


def number(value: float) -> str:
    """Return a coordinate with at most two decimals, never as minus zero.

    Examples
    --------
    >>> number(3.14159), number(-0.001), number(20)
    ('3.14', '0', '20')
    """
    return f"{round(value, 2) + 0.0:g}" if abs(value) < 1e5 else str(round(value))


def text(
    x: float, y: float, words: str, *, size: int = 14, anchor: str = "start", **more: str
) -> str:
    """Return a text element; `more`: `weight`, `css`, and `halo` (any word) to read over areas.

    Examples
    --------
    >>> text(1, 2, "a & b", css="soft")
    '<text x="1" y="2" font-size="14" fill="#465452" class="soft">a &amp; b</text>'
    """
    css, weight = more.get("css", ""), more.get("weight", "")
    parts = [f'x="{number(x)}" y="{number(y)}" font-size="{size}"']
    parts.append(f'fill="{SOFT if css == "soft" else INK}"')
    if anchor != "start":
        parts.append(f'text-anchor="{anchor}"')
    if weight:
        parts.append(f'font-weight="{weight}"')
    if more.get("halo"):
        css = f"{css} halo".strip()
        parts.append('stroke="#fff" stroke-width="4" stroke-linejoin="round" paint-order="stroke"')
    if css:
        parts.append(f'class="{css}"')
    return f"<text {' '.join(parts)}>{escape(sure(words))}</text>"


def role_class(role: str) -> str:
    """Return the class that colours a role on a page.

    Examples
    --------
    >>> role_class("side")
    'role-side'
    """
    return "role-" + role.replace("_", "-")


def style_of(role: str) -> LineStyle:
    """Return the line style of a role; raises ValueError with the name of an unknown one.

    Examples
    --------
    >>> style_of("waste").round_ends
    True
    """
    if role not in LINES:
        raise ValueError(f"no line style for the role {role!r}; there are: {', '.join(LINES)}")
    return LINES[role]


def stroke(path: str, role: str, width: float) -> str:
    """Return a flow along a path, in its role's line style, `width` units wide.

    Examples
    --------
    >>> stroke("M0 0h9", "loss", 2).count("stroke-dasharray")
    1
    """
    style = style_of(role)
    width = max(width, NARROWEST_DOUBLE) if style.double else width
    shared = f'd="{path}" fill="none"'
    outer = (
        f'<path class="{role_class(role)}" color="{style.colour}" {shared} stroke="currentColor"'
        f' stroke-width="{number(width)}"'
    )
    if style.dashes:
        outer += f' stroke-dasharray="{style.dash_array(width)}"'
    if style.round_ends:
        outer += ' stroke-linecap="round"'
    outer += "/>"
    if style.double:
        inner = width / 2.4
        outer += (
            f'<path class="ground-line" {shared} stroke="#fff" stroke-width="{number(inner)}"/>'
        )
    return outer


def hatch(role: str, prefix: str) -> str:
    """Return the definition of a role's hatching, for areas that must hold in black and white.

    Examples
    --------
    >>> hatch("product", "f"), hatch("waste", "f").startswith('<pattern id="f-waste"')
    ('', True)
    """
    marks = {
        "rising": "M-2 10L10 -2M-2 4L4 -2M4 10L10 4",
        "falling": "M-2 -2L10 10M-2 4L4 10M4 -2L10 4",
        "level": "M0 4h8",
        "crossed": "M-2 -2L10 10M-2 10L10 -2",
        "upright": "M4 0v8",
        "dotted": "M4 4h.01",
    }
    style = style_of(role)
    if style.hatch not in marks:
        return ""
    width = 4 if style.hatch == "dotted" else 2
    return (
        f'<pattern id="{prefix}-{role}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<path class="{role_class(role)}" color="{style.colour}" stroke="currentColor"'
        f' stroke-width="{width}" stroke-linecap="round" d="{marks[style.hatch]}"/></pattern>'
    )


def area(path: str, role: str, prefix: str, strength: float = 1.0) -> str:
    """Return an area in its role's colour and hatching, with an outline.

    `strength` from 0 to 1 lightens a full area, where words stand on it.

    Examples
    --------
    >>> 'fill="currentColor"' in area("M0 0h9v9z", "product", "f")
    True
    >>> 'fill="url(#f-loss)"' in area("M0 0h9v9z", "loss", "f")
    True
    """
    style = style_of(role)
    fill = {"full": "currentColor", "none": "none", "empty": "none"}.get(
        style.hatch, f"url(#{prefix}-{role})"
    )
    dash = ' stroke-dasharray="5 3"' if style.hatch == "empty" else ""
    if style.hatch == "full" and strength < 1:
        dash = f' fill-opacity="{strength:g}"'
    return (
        f'<path class="{role_class(role)}" color="{style.colour}" fill="{fill}"'
        f' stroke="currentColor" stroke-width="1.5"{dash} d="{path}"/>'
    )


def document(
    key: str, width: float, height: float, words: tuple[str, str], body: str, css: str
) -> str:
    """Return the whole drawing; `words` are its title and description for who cannot see it.

    `key` must be unlike that of any other drawing on the page; `css` names extra classes.

    Examples
    --------
    >>> document("k", 10, 5, ("A", "B"), "", "").startswith('<svg xmlns="http://www.w3.org/2000/svg"')
    True
    """
    title, finding = (escape(sure(word)) for word in words)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing {css}" role="group"'
        f' aria-labelledby="{key}-title {key}-desc" width="{number(width)}"'
        f' height="{number(height)}" viewBox="0 0 {number(width)} {number(height)}"'
        ' font-family="Hyperlegible, sans-serif">'
        f'<title id="{key}-title">{title}</title><desc id="{key}-desc">{finding}</desc>{body}</svg>'
    )
