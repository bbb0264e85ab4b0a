"""Files of energy on their way: where they lie, how they are read, what of them is kept."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable, Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

from recycling.models import EnergyChunk, EnergyFile
from recycling.tables.energy.packed import POINTS_IN_A_BLOCK, STORED, packed
from shared.errors import Refused

LARGEST_BYTES = 1 << 30
MOST_SHOWN = 20


def place_of(digest: str, workshop_id: int) -> Path:
    """Give where a file lies until it is taken."""
    return Path(settings.DATA_DIR) / "energy" / f"{workshop_id}-{digest}.csv"


def put_down(workshop_id: int, pieces: Iterable[bytes]) -> tuple[str, int]:
    """Write a file where the work finds it; return its digest and size.

    Raises
    ------
    Refused
        When it is empty or larger than a gibibyte; then nothing is left of it.
    """
    folder = place_of("", workshop_id).parent
    folder.mkdir(parents=True, exist_ok=True)
    draft = folder / f"draft-{secrets.token_hex(8)}"
    digest, size = hashlib.sha256(), 0
    try:
        with open(draft, "wb") as file:
            for piece in pieces:
                size += len(piece)
                if size > LARGEST_BYTES:
                    raise Refused.because(
                        "file-too-large", "A file may have up to 1 GiB; split it.", "/file"
                    )
                digest.update(piece)
                file.write(piece)
        if not size:
            raise Refused.because("file-empty", "This file is empty. Export it again.", "/file")
        draft.replace(place_of(digest.hexdigest(), workshop_id))
    finally:
        draft.unlink(missing_ok=True)
    return digest.hexdigest(), size


def read_file(file: EnergyFile, told: Callable[[int], None] | None = None) -> tuple[Any, Any, Any]:
    """Read a file once: its layout, its preview and its points; `told` hears the bytes read.

    Raises
    ------
    ValueError
        Saying what to do, when it cannot be read as it was said to be.
    """
    from recycling.tables.energy.layout import LayoutChoices, read_layout
    from recycling.tables.energy.read import EnergyChoices, import_energy

    said = file.choices
    path = place_of(file.digest, file.workshop_id)
    if not path.exists():
        raise ValueError("the file is no longer here: bring it again")
    columns = tuple(name.strip() for name in said["time_columns"].split("+") if name.strip())
    layout = read_layout(
        path,
        LayoutChoices(
            separator={"tab": "\t"}.get(said["separator"], said["separator"]) or None,
            decimal=said["decimal"] or None,
            time_columns=columns or None,
            value_column=said["value_column"] or None,
            time_shape=said["time_shape"] or None,
            kind=said["kind"] or None,
            unit=said["unit"] or None,
        ),
    )
    choices = EnergyChoices(
        max_gap_s=said["max_gap_s"],
        zone=ZoneInfo(said["zone"]),
        repeated_hour=said["repeated_hour"],
        rule=said["rule"],
        sort=said["sort"],
        rollover_kwh=said["rollover_kwh"],
        falls_are_resets=said["falls_are_resets"],
    )
    return (layout, *import_energy(path, layout, choices, told))


def preview_of(layout: Any, preview: Any) -> dict[str, Any]:
    """Give what a person must see before a file is taken, as plain data."""
    shown = asdict(preview)
    for name in ("gaps", "conflicts", "falls", "problems"):
        shown[name] = list(shown[name])[:MOST_SHOWN]
    for problem in shown["problems"]:
        problem["column"] = _column(layout, problem["says"])
    shown["fall_count"] = len(preview.falls)
    return {
        **shown,
        "can_be_written": preview.can_be_written,
        "value_column": layout.columns[layout.value_column],
        "time_columns": [layout.columns[place] for place in layout.time_columns],
        "time_shape": layout.time_shape,
        "kind": layout.kind,
        "factor": layout.factor,
        "separator": layout.separator,
        "decimal": layout.decimal,
        "has_offset": layout.has_offset,
        "interval_s": layout.interval_s,
    }


def _column(layout: Any, says: str) -> str:
    """Name the column that a finding about a row is in; empty where it is about the whole row."""
    if "columns instead of" in says:
        return ""
    if "is not a number" in says or "is not between" in says:
        return layout.columns[layout.value_column]
    return " + ".join(layout.columns[place] for place in layout.time_columns)


def keep_points(file: EnergyFile, points: Any) -> None:
    """Store the points of a file in chunks, all of them or none by the caller's transaction."""
    EnergyChunk.objects.filter(file=file).delete()
    rows = []
    for first in range(0, len(points), POINTS_IN_A_BLOCK):
        part = slice(first, first + POINTS_IN_A_BLOCK)
        columns = (points.at_us[part], points.kwh[part], points.covered_us[part])
        rows.append(
            EnergyChunk(
                file=file,
                first_us=int(columns[0][0]),
                last_us=int(columns[0][-1]),
                count=len(columns[0]),
                points=packed(columns, STORED),
            )
        )
    EnergyChunk.objects.bulk_create(rows, batch_size=50)
