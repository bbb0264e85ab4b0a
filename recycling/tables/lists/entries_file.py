"""A file of entries in JSON, read into what the services take; see the reference page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from dataclasses import fields as dataclass_fields
from datetime import UTC, datetime
from typing import Any

from recycling.records.lots.mass_entries import (
    CountEntry,
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
)
from recycling.records.lots.origin_entries import ORIGINS, BagEntry, OriginEntry
from recycling.records.runs.entries import CheckEntry, FeedEntry, RunEntry, SettingEntry
from recycling.stages import COUNTING, STAGES, first_of, stage
from recycling.stages.declaration import HEEL
from recycling.tables.lists.json_fields import LONGEST_NAME, Fields, read_json
from shared.declared import declared_in
from shared.errors import Collected, Refused
from shared.said import say

KINDS = (*ORIGINS, "run", "count")
NEVER = datetime(1970, 1, 1, tzinfo=UTC)
SPOOLED = "filament"


@dataclass(frozen=True)
class FileEntry:
    """One entry of a file; its lots bear the file's own names.

    Attributes
    ----------
    place : int
        Its place in the file, from 0.
    title : str
        What it is called in messages.
    entry : OriginEntry or RunEntry
        What is to be recorded.
    makes : tuple of str
        The file's names of the lots that it makes, in the order they are made.
    unaccounted_mg : int or None
        What the file says is left over, in mg; None where it says nothing.
    """

    place: int
    title: str
    entry: OriginEntry | RunEntry
    makes: tuple[str, ...] = ()
    unaccounted_mg: int | None = None


def read_entries(text: str, tick: Callable[[], None] = lambda: None) -> list[FileEntry]:
    """Read a file of entries.

    Parameters
    ----------
    text : str
        JSON: an object with a list ``entries``; anything else in it is left alone.
    tick : callable
        Is called at each entry, and may refuse to go on.

    Returns
    -------
    list of FileEntry
        In the order of the file.

    Raises
    ------
    Refused
        With every problem, each with a pointer such as ``/entries/4/inputs/0/lot``.

    Examples
    --------
    >>> (one,) = read_entries('''{"entries": [{"entry": "purchase", "lot": "a",
    ...     "at": "2026-05-04T09:30:00Z", "form": "pellets", "polymer": "PLA", "mass_mg": 5}]}''')
    >>> one.makes, one.entry.kind, one.entry.bags[0].mass_mg
    (('a',), 'purchase', 5)
    """
    read = read_json(text)
    rows = read.get("entries") if isinstance(read, dict) else None
    if not isinstance(rows, list) or not rows:
        raise Refused.because("entries-missing", "A list “entries” is needed, not empty.")
    found, known, entries = Collected(), set[str](), []
    for place, row in enumerate(rows):
        tick()
        fields = Fields(row, f"/entries/{place}", found)
        entry = _entry(place, fields)
        fields.end()
        if entry is not None:
            _check_names(entry, known, found)
            entries.append(entry)
    found.refuse()
    return entries


def _entry(place: int, fields: Fields) -> FileEntry | None:
    kind = fields.text("entry", needed=True)
    if kind in ORIGINS:
        return _origin(place, kind, fields)
    if kind == "run":
        return _run(place, fields)
    if kind == "count":
        return _count(place, fields)
    if kind:
        fields.found.add(
            "entry-unknown",
            say(
                "There is no kind of entry “{kind}”; there are {kinds}.",
                kind=kind[:LONGEST_NAME],
                kinds=", ".join(KINDS),
            ),
            f"{fields.pointer}/entry",
        )
    fields.leave()
    return None


def _origin(place: int, kind: str, fields: Fields) -> FileEntry:
    said = _declared(OriginEntry, fields)
    rows = fields.rows("bags") if fields.has("bags") else [fields]
    names, bags = [], []
    for row in rows:
        names.append(row.text("lot", needed=True))
        bags.append(BagEntry(**_declared(BagEntry, row)))
        if row is not fields:
            row.end()
    entry = OriginEntry(**said, kind=kind, bags=tuple(bags))
    return FileEntry(place, f"{kind} {names[0] if names else ''}".strip(), entry, tuple(names))


def _declared(entry: type, row: Fields) -> dict[str, Any]:
    """Read what is declared; a name that one object has for two entries is of the outer one."""
    read: dict[str, Any] = {}
    for one in dataclass_fields(entry):
        declared = declared_in(entry)[one.name]
        name, needed = declared.file or one.name, declared.always or declared.file_needs
        if one.type == "str" and not declared.by_address:
            read[one.name] = row.text(name, needed)
        elif one.type == "int | None":
            read[one.name] = row.whole(name, needed)
        elif one.type == "datetime":
            read[one.name] = row.moment(name, needed) or NEVER
    if entry is BagEntry:
        read["mass_mg"] = row.mass_mg()
    return read


def _run(place: int, fields: Fields) -> FileEntry:
    key, names = fields.text("key"), []
    declared = stage(fields.text("stage", needed=True))
    if declared is None:
        fields.found.add(
            "stage-unknown",
            say(
                "There is no such stage; there are {value}.",
                value=", ".join(one.key for one in STAGES),
            ),
            f"{fields.pointer}/stage",
        )
    machine, note = fields.text("machine"), fields.text("note")
    if machine and declared is not None and not declared.machine:
        note, machine = f"{note} At {machine}.".strip(), ""
    outputs: list[tuple[str, OutputEntry]] = []
    heels: list[tuple[str, OutputEntry]] = []
    for row in fields.rows("outputs"):
        name, output = row.text("lot", needed=True), _output(row)
        (heels if output.form == HEEL else outputs).append((name, output))
        row.end()
    if len(heels) > 1:
        fields.found.add("heel-twice", "A run leaves one heel.", f"{fields.pointer}/outputs")
    names = [name for name, _ in outputs + heels[:1]]
    entry = RunEntry(
        stage=declared.key if declared else "",
        started_at=fields.moment("started_at", needed=True) or NEVER,
        ended_at=fields.moment("ended_at", needed=True) or NEVER,
        machine=machine,
        polymer=fields.text("polymer"),
        inputs=tuple(DrawEntry(*_lot_mass(row)) for row in fields.rows("inputs")),
        outputs=tuple(output for _, output in outputs),
        losses=tuple(_loss(row) for row in fields.rows("losses")),
        heel=next((HeelEntry(heel.mass_mg, heel.polymer) for _, heel in heels), None),
        feeds=tuple(_feed(row) for row in fields.rows("feeds")),
        settings=tuple(_noted(SettingEntry, row) for row in fields.rows("settings")),
        checks=tuple(_noted(CheckEntry, row) for row in fields.rows("checks")),
        note=note,
    )
    title = f"run {key}".strip() + f" ({entry.stage or 'unknown stage'})"
    return FileEntry(place, title, entry, tuple(names), fields.whole("unaccounted_mg"))


def _output(row: Fields) -> OutputEntry:
    form = row.text("form", needed=True)
    return OutputEntry(
        form=form,
        mass_mg=row.mass_mg(),
        polymer=row.text("polymer"),
        colour=row.text("colour"),
        role=row.text("role"),
        spool=_spool(row, form == SPOOLED),
        count=row.whole("count"),
        note=row.text("note"),
    )


def _spool(row: Fields, usual: bool) -> SpoolEntry | None:
    told = row.inside("spool")
    if told is None:
        return SpoolEntry() if row.yes("spool", usual) else None
    spool = SpoolEntry(
        diameter_mm=told.number("diameter_mm", 1.75) or 0.0,
        tolerance_mm=told.number("tolerance_mm", 0.05),
        tare_mg=told.whole("tare_mg"),
        length_m=told.number("length_m"),
    )
    told.end()
    return spool


def _lot_mass(row: Fields) -> tuple[str, int]:
    read = row.text("lot", needed=True), row.mass_mg()
    row.end()
    return read


def _loss(row: Fields) -> LossEntry:
    loss = LossEntry(row.text("account", needed=True), row.mass_mg(), row.text("how"))
    row.end()
    return loss


def _feed(row: Fields) -> FeedEntry:
    at = row.moment("at", needed=True) or NEVER
    return FeedEntry(at, *_lot_mass(row))


def _noted(what: type[Any], row: Fields) -> Any:
    noted: dict[str, Any] = {name: row.text(name, needed=True) for name in ("key", "value")}
    noted["at"] = row.moment("at")
    if what is SettingEntry:
        noted["seen"] = row.text("seen")
    row.end()
    return what(**noted)


def _count(place: int, fields: Fields) -> FileEntry:
    at, key = fields.moment("at", needed=True) or NEVER, fields.text("key")
    counts = tuple(CountEntry(*_lot_mass(row)) for row in fields.rows("counts"))
    entry = RunEntry(first_of(COUNTING).key, at, at, counts=counts, note=fields.text("note"))
    return FileEntry(place, f"count {key}".strip(), entry, (), fields.whole("unaccounted_mg"))


def _check_names(entry: FileEntry, known: set[str], found: Collected) -> None:
    pointer = f"/entries/{entry.place}"
    if isinstance(entry.entry, RunEntry):
        used = {
            **{f"inputs/{n}": draw.lot for n, draw in enumerate(entry.entry.inputs)},
            **{f"counts/{n}": count.lot for n, count in enumerate(entry.entry.counts)},
            **{f"feeds/{n}": feed.lot for n, feed in enumerate(entry.entry.feeds)},
        }
        for where, name in used.items():
            if name and name not in known:
                found.add(
                    "lot-unknown",
                    say("No earlier entry makes a lot “{name}”.", name=name),
                    f"{pointer}/{where}/lot",
                )
    for name in entry.makes:
        if name in known:
            found.add("lot-twice", say("A lot “{name}” is made twice.", name=name), pointer)
        known.add(name)
