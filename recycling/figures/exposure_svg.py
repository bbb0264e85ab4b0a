"""Exposure of good and bad spools side by side, and the exposure curve, as accessible drawings.

Good spools are hollow bars to the left, bad ones full bars to the right, so that it holds in black
and white; each bar says its count.
"""

from __future__ import annotations

from recycling.calc.suspects.exposure import exposure_of_share
from recycling.figures.svg import HAIR, INK, document, number, text
from recycling.records.drawings import Curve, SideBySide

WIDTH, ROW, LABEL, COUNT, TOP = 328.0, 30.0, 96.0, 26.0, 30.0
CURVE_WIDTH, CURVE_HEIGHT, EDGE = 300.0, 170.0, 44.0
STEPS = 60


def side_by_side_svg(record: SideBySide, key: str = "exposures") -> str:
    """Return the drawing as SVG text, 328 units wide so that it fits a phone.

    `key` must be unlike that of any other drawing on the page.

    Examples
    --------
    >>> from recycling.records.drawings import Bin
    >>> drawn = side_by_side_svg(SideBySide("A", "B", "good", "bad", (Bin("none", 3, 0),)))
    >>> drawn.count("<rect"), ">3<" in drawn
    (1, True)
    """
    most = max((max(one.good, one.bad) for one in record.bins), default=0) or 1
    side = (WIDTH - LABEL) / 2
    scale = (side - COUNT) / most
    left, right = side, side + LABEL
    body = [
        text(left - 4, 16, record.good_label, size=14, anchor="end", weight="700"),
        text(right + 4, 16, record.bad_label, size=14, weight="700"),
    ]
    bottom = TOP + ROW * len(record.bins)
    for x in (left, right):
        body.append(
            f'<path class="ink-line" stroke="{INK}"'
            f' d="M{number(x)} {number(TOP)}V{number(bottom)}"/>'
        )
    for place, one in enumerate(record.bins):
        y = TOP + place * ROW
        body.append(
            text((left + right) / 2, y + 20, one.label, size=13, anchor="middle", css="soft")
        )
        if one.good:
            width = one.good * scale
            body.append(_bar(left - width, y + 5, width, full=False))
            body.append(text(left - width - 4, y + 20, str(one.good), size=13, anchor="end"))
        if one.bad:
            width = one.bad * scale
            body.append(_bar(right, y + 5, width, full=True))
            body.append(text(right + width + 4, y + 20, str(one.bad), size=13))
    words = (record.title, record.finding)
    return document(key, WIDTH, bottom + 6, words, "".join(body), "exposures")


def _bar(x: float, y: float, width: float, full: bool) -> str:
    look = (
        f'class="ink" fill="{INK}"'
        if full
        else f'class="ground ink-line" fill="#fff" stroke="{INK}" stroke-width="2"'
    )
    size = f'x="{number(x)}" y="{number(y)}" width="{number(width)}" height="20"'
    return f"<rect {look} {size}/>"


def curve_svg(record: Curve, key: str = "curve") -> str:
    """Return the exposure curve as SVG text.

    Raises ValueError for a share of full exposure or a power out of range.

    Examples
    --------
    >>> drawn = curve_svg(Curve("A", "B", "share", "exposure", 0.2, 1.0))
    >>> drawn.count("<path"), "20 %" in drawn
    (3, True)
    """
    wide, high = CURVE_WIDTH - EDGE - 12, CURVE_HEIGHT - EDGE - 12
    most = min(1.0, 2.5 * record.full_share)
    shares = [most * step / STEPS for step in range(STEPS + 1)]
    exposures = exposure_of_share(shares, record.full_share, record.power).tolist()
    base = 12 + high

    def at(share: float, exposure: float) -> str:
        return f"{number(EDGE + wide * share / most)} {number(base - high * exposure)}"

    line = "M" + "L".join(at(*pair) for pair in zip(shares, exposures, strict=True))
    full = EDGE + wide * record.full_share / most
    axes = f"M{number(EDGE)} 12V{number(base)}H{number(EDGE + wide)}"
    body = [
        f'<path class="hair-line" stroke="{HAIR}" fill="none" stroke-dasharray="4 4"'
        f' d="M{number(full)} 12V{number(base)}"/>',
        f'<path class="ink-line" stroke="{INK}" fill="none" stroke-width="1.5" d="{axes}"/>',
        f'<path class="ink-line" stroke="{INK}" fill="none" stroke-width="3" d="{line}"/>',
        text(EDGE - 6, 18, "1", size=13, anchor="end"),
        text(EDGE - 6, base, "0", size=13, anchor="end"),
        text(full, base + 16, f"{record.full_share * 100:.3g} %", size=13, anchor="middle"),
        text(EDGE, base + 16, "0", size=13, anchor="middle"),
        text(EDGE, base + 34, record.share_label, size=13, css="soft"),
        text(EDGE + 6, 20, record.exposure_label, size=13, css="soft", halo="yes"),
    ]
    words = (record.title, record.finding)
    return document(key, CURVE_WIDTH, CURVE_HEIGHT, words, "".join(body), "curve")
