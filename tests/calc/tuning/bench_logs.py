"""Logs of a simulated extruder made outside this project, and what was true of them."""

import csv
import json

from recycling.calc.tuning.flow import Event
from tests.checked import standard


def logs():
    """Read each log's events by its name."""
    found = {}
    with standard("bench/flow_logs.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            found.setdefault(row["log"], []).append(event_of(row))
    return found


def event_of(row):
    """Take a line of a log: settings, a filling that was weighed, or diameters."""

    def number(name):
        return float(row[name]) if row[name] else None

    fed = number("grams")
    return Event(
        float(row["minutes"]),
        screw_rpm=number("screw_rpm"),
        puller_mm_s=number("puller_mm_s"),
        fed_g=fed,
        u_fed_g=number("u_grams") or 1.0,
        diameters_mm=tuple(float(one) for one in row["diameter_readings_mm"].split("|") if one),
    )


def truth():
    """What was true of each log."""
    return json.loads(standard("bench/flow_truth.json").read_text(encoding="utf-8"))
