"""Reading the words off a PDF, by its fonts' maps to Unicode (ISO 32000-1, 9.10)."""

from __future__ import annotations

import re

import pikepdf

_PAIR = re.compile(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*$", re.MULTILINE)
_RANGE = re.compile(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>")


def text_of(pdf: pikepdf.Pdf) -> str:
    """Return what all pages say, a line for each stretch of text."""
    return "\n".join(line for page in pdf.pages for line in _lines(page))


def _lines(page: pikepdf.Page) -> list[str]:
    maps = {name: _map(font) for name, font in page.Resources.Font.items()}
    lines, font = [""], {}
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "Tf":
                font = maps[str(operands[0])]
            case "Tj":
                lines[-1] += _read(operands[0], font)
            case "TJ":
                lines[-1] += "".join(
                    _read(one, font) for one in operands[0] if isinstance(one, pikepdf.String)
                )
            case "ET" | "Td" | "Tm":
                lines.append("")
    return [line for line in lines if line]


def _read(held: pikepdf.String, font: dict[int, str]) -> str:
    raw = bytes(held)
    return "".join(
        font.get(int.from_bytes(raw[place : place + 2]), "") for place in range(0, len(raw), 2)
    )


def _map(font: pikepdf.Object) -> dict[int, str]:
    said = font.ToUnicode.read_bytes().decode("latin-1")
    found = {}
    for part in re.findall(r"beginbfchar(.*?)endbfchar", said, re.DOTALL):
        for code, text in _PAIR.findall(part):
            found[int(code, 16)] = bytes.fromhex(text).decode("utf-16-be")
    for part in re.findall(r"beginbfrange(.*?)endbfrange", said, re.DOTALL):
        for low, high, text in _RANGE.findall(part):
            for code in range(int(low, 16), int(high, 16) + 1):
                found[code] = chr(int(text, 16) + code - int(low, 16))
    return found
