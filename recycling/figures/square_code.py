"""The square code of a label: a QR code (ISO/IEC 18004) as one SVG path, black on nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

LEVEL = "q"
"""Restores about a quarter of the codewords (ISO/IEC 18004:2015, 5.5.1): smears and scratches. A
symbol whose corner with a finder pattern is gone is not found at all."""


def square_modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """Return the modules of the smallest symbol of level Q or better, dark ones true.

    Examples
    --------
    >>> len(square_modules("HTTPS://LEDGER.EXAMPLE.ORG/Q/TIDEMILL/L345-L"))
    29
    """
    import segno

    symbol = segno.make(text, error=LEVEL, micro=False)
    return tuple(tuple(bool(module) for module in row) for row in symbol.matrix)


def _runs(modules: Sequence[Sequence[bool]]) -> Iterator[str]:
    for y, row in enumerate(modules):
        x = 0
        for dark, run in groupby(row):
            length = len(list(run))
            if dark:
                yield f"M{x} {y}h{length}v1h-{length}z"
            x += length


def square_svg(text: str, border: int = 0, ground: bool = False, scale: int = 1) -> str:
    """Return the symbol as SVG with so many light modules around it, each `scale` wide.

    All dark modules are one path, so that no seam shows between rows when it is drawn small.

    Examples
    --------
    >>> square_svg("L345-L")[:90]
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 21 21" width="21" height="21"><path d'
    """
    modules = square_modules(text)
    size = len(modules) + 2 * border
    light = f'<path fill="#fff" d="M0 0h{size}v{size}h-{size}z"/>' if ground else ""
    move = f' transform="translate({border} {border})"' if border else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}"'
        f' width="{scale * size}" height="{scale * size}">{light}'
        f'<path d="{"".join(_runs(modules))}"{move}/></svg>'
    )
