"""What was measured during a run, as sensor elements of EPCIS."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from recycling.records.exchange.exports import Exported, ExportEnergy, ExportRun
from recycling.stages.declaration import UNACCOUNTED

MEASURED = {
    "°C": ("Temperature", "CEL"),
    "h": ("Time", "HUR"),
    "mm": ("Length", "MMT"),
    "%": ("Dimensionless", "P1"),
    "1/min": ("Frequency", "RPM"),
    "mm/s": ("Speed", "C16"),
}
"""Unit in the book → measured quantity and its code of UN/CEFACT Recommendation 20."""
MG_PER_KG = 1_000_000

Element = dict[str, Any]


def log_elements(found: Exported, run: ExportRun) -> list[Element]:
    """Tell what was noted at each moment of a run."""
    zone = ZoneInfo(found.zone)
    elements: dict[str, list[Element]] = {}
    for one in run.logs:
        kind, unit = MEASURED[one.unit]
        at = one.at.astimezone(zone).isoformat(timespec="milliseconds")
        report = {"type": kind, "value": one.value, "uom": unit, "book:key": one.key}
        elements.setdefault(at, []).append(report)
    return [
        {"sensorMetadata": {"time": at}, "sensorReport": reports}
        for at, reports in elements.items()
    ]


def loss_element(losses: dict[str, int]) -> Element:
    """Tell what no lot took up: measured or estimated losses, and what closes the run."""
    return {
        "sensorReport": [
            {
                "type": "Mass",
                "value": mass_mg / MG_PER_KG,
                "uom": "KGM",
                "book:account": account,
                "book:how": "computed" if account == UNACCOUNTED else "measured or estimated",
            }
            for account, mass_mg in losses.items()
        ]
    }


def energy_key(run: ExportRun, one: ExportEnergy) -> str:
    """Tell a figure of a run's energy from all others, an equal one that was wrong before too."""
    again = f"/{one.number}" if one.number > 1 else ""
    return f"energy/{run.code}/{one.kwh!r}{again}"


def energy_element(found: Exported, run: ExportRun, one: ExportEnergy) -> Element:
    """Tell the energy of a run, with how it became known."""
    zone = ZoneInfo(found.zone)
    times = {"startTime": run.started_at, "endTime": run.ended_at}
    metadata = {
        name: at.astimezone(zone).isoformat(timespec="milliseconds")
        for name, at in times.items()
        if at is not None
    }
    report = {"type": "Energy", "value": one.kwh, "uom": "KWH", "book:how": one.method}
    if not one.told:
        report["book:told"] = False
    return {"sensorMetadata": metadata, "sensorReport": [report]}
