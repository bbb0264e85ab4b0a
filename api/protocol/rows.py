"""Rows as CSV (RFC 4180): the same rows as in JSON, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping
from typing import Any

from rest_framework.renderers import BaseRenderer, JSONRenderer

from api.protocol.answers import as_json, shown

MEDIA_TYPE = "text/csv"
STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


class CsvRenderer(BaseRenderer):
    """Stands for CSV when the form of an answer is agreed on."""

    media_type = MEDIA_TYPE
    format = "csv"
    charset = "utf-8"

    def render(self, data: Any, *_: Any) -> bytes:
        return as_csv(data).encode()


def as_csv(rows: Iterable[Any]) -> str:
    """Write rows as CSV; the columns are those of the first rows that have them."""
    flat = [_flat(json.loads(as_json(shown(row)))) for row in rows]
    columns = list(dict.fromkeys(name for row in flat for name in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, restval="")
    writer.writeheader()
    writer.writerows(flat)
    return text.getvalue()


def _flat(row: Mapping[str, Any], under: str = "") -> dict[str, Any]:
    cells: dict[str, Any] = {}
    for name, value in row.items():
        if isinstance(value, dict):
            cells |= _flat(value, f"{under}{name}.")
        else:
            cells[f"{under}{name}"] = _cell(value)
    return cells


def _cell(value: Any) -> Any:
    """Keep a text from being taken for a formula; numbers stay numbers."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        value = "; ".join(one if isinstance(one, str) else json.dumps(one) for one in value)
    if isinstance(value, str) and value.startswith(STARTS_FORMULA):
        return f"'{value}"
    return value


RENDERERS = (JSONRenderer, CsvRenderer)
