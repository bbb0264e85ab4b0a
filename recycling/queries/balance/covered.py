"""Figures as they are stated: with what covers 95 % of the truths, and why that much, in words."""

from __future__ import annotations

import math
from collections.abc import Callable

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from recycling.calc.balance.coverage import stated
from recycling.calc.balance.shared_errors import NOT_NAMED
from recycling.records.balance.covered import Covered
from shared.measured import Measured, Source


def covered(measured: Measured) -> Covered:
    """State how sure a figure is, its two largest components in words."""
    found = stated(measured)
    return Covered(
        half=found.half,
        u=found.u,
        k=round(found.k, 4),
        freedom=None if math.isinf(found.freedom) else round(found.freedom, 2),
        because=tuple(
            _("{percent} of it from {source}").format(
                percent=_percent(share), source=source_words(source)
            )
            for source, share in found.largest
        ),
    )


def _percent(share: float) -> str:
    percent = round(100 * share)
    figure = number_format(percent, use_l10n=True) if percent else _("less than 1")
    return f"{figure}\N{NARROW NO-BREAK SPACE}%"


def source_words(source: Source) -> str:
    """Name a source of error for people."""
    name = str(source.name)
    if source.kind == "scale" and name.startswith(NOT_NAMED):
        return _("the error of a scale that is not known")
    words = _SOURCES.get(source.kind, _SOURCES["own"])()
    return words.format(name=name)


_SOURCES: dict[str, Callable[[], str]] = {
    "scale": lambda: _("the error of the scale {name}"),
    "steps": lambda: _("the steps of the scales"),
    "tare": lambda: _("the tare of {name}"),
    "sample": lambda: _("the mean of the sample {name}"),
    "scatter": lambda: _("the scatter of the bottles counted"),
    "rule of thumb": lambda: _("a rule of thumb for estimates"),
    "usual bottle": lambda: _("what was taken as the mass of a bottle"),
    "heel not weighed": lambda: _("the estimate of what stayed in a barrel"),
    "stated": lambda: _("what was stated with the entries"),
    "meter": lambda: _("the meter of {name}"),
    "rated power": lambda: _("the rated power of {name}"),
    "energy readings": lambda: _("readings of energy, and gaps between them"),
    "diameter": lambda: _("the readings of the diameter"),
    "tolerance": lambda: _("the tolerance of the diameter"),
    "moisture": lambda: _("the moisture noted"),
    "own": lambda: _("readings of their own"),
}
"""Kind of a source → what it is called; sources whose name is a number count together."""
