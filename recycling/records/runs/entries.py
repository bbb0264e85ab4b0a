"""Runs, corrections, holds, and what is noted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.lots.mass_entries import (
    CountEntry,
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
)


@dataclass(frozen=True)
class FeedEntry:
    """A refill during a run, in the order fed.

    Attributes
    ----------
    at : datetime
        When, aware.
    lot : str
        The lot's code.
    mass_mg : int
        Mass in mg.
    """

    at: datetime
    lot: str
    mass_mg: int


@dataclass(frozen=True)
class SettingEntry:
    """A setting that was changed during a run.

    Attributes
    ----------
    key, value : str
        Which setting of the stage, and its new value.
    at : datetime or None
        When, aware; None for the run's start.
    seen : str
        What was seen after the change.
    """

    key: str
    value: str
    at: datetime | None = None
    seen: str = ""


@dataclass(frozen=True)
class CheckEntry:
    """What was checked or noted, by the fields that the stage declares.

    Attributes
    ----------
    key, value : str
        Which field of the stage, and what was found.
    at : datetime or None
        When, aware; None for the run's end.
    """

    key: str
    value: str
    at: datetime | None = None


@dataclass(frozen=True)
class RunEntry:
    """A whole run, or the start of one.

    Attributes
    ----------
    stage : str
        Key of the stage.
    started_at : datetime
        When the work began, aware.
    ended_at : datetime or None
        When it ended; None for a run that is opened.
    machine : str
        Name of the machine, where the stage has one.
    operators : tuple of str
        Names of the members who worked; empty for the one who enters it.
    polymer : str
        The run's polymer; empty for that of its product or its largest input.
    inputs, outputs, losses, heel, feeds, settings, checks, counts
        What went in, came out and was noted.
    note : str
        What else should be known of it.
    composition_model : str
        How the origins of what it gives are computed: "well mixed", or "feed order" for a stage
        whose machine keeps a heel; empty for feed order where the times tell the order, else well
        mixed. Chosen where they do not, feed order is the order listed.
    """

    stage: str
    started_at: datetime
    ended_at: datetime | None = None
    machine: str = ""
    operators: tuple[str, ...] = ()
    polymer: str = ""
    inputs: tuple[DrawEntry, ...] = ()
    outputs: tuple[OutputEntry, ...] = ()
    losses: tuple[LossEntry, ...] = ()
    heel: HeelEntry | None = None
    feeds: tuple[FeedEntry, ...] = ()
    settings: tuple[SettingEntry, ...] = ()
    checks: tuple[CheckEntry, ...] = ()
    counts: tuple[CountEntry, ...] = ()
    note: str = ""
    composition_model: str = ""


@dataclass(frozen=True)
class CorrectionEntry:
    """A figure that was typed wrong.

    Attributes
    ----------
    posting : int
        Id of the posting that carries the figure.
    mass_mg : int
        What it should have been, in mg, without sign; zero when it was not there at all.
    reason : str
        Why.
    flow : bool
        Whether draws that took the lot whole follow.
    """

    posting: int
    mass_mg: int
    reason: str
    flow: bool = False
