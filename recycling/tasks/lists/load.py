"""Replay a file of entries through the services, all or nothing."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db import transaction

from recycling.queries.people.workshops import last_sequence, lead_of, workshop_ids
from recycling.queries.setup import register as known
from recycling.records.actors import Actor
from recycling.records.lots.origin_entries import OriginEntry
from recycling.records.people import WorkshopEntry
from recycling.records.recorded import OriginRecorded, RunRecorded
from recycling.records.runs.entries import RunEntry
from recycling.records.setup.entries import MachineEntry, PolymerEntry, ProgrammeEntry, SourceEntry
from recycling.services.lots.lots_count import lots_count
from recycling.services.lots.origin_record import origin_record
from recycling.services.people.workshops import workshop_open
from recycling.services.runs.run_record import run_record
from recycling.services.setup import register as setting_up
from recycling.stages import STAGES, stage
from recycling.tables.lists.entries_file import FileEntry
from shared.errors import Conflict, Problem, Refused
from shared.said import say

Progress = Callable[[Sequence[FileEntry]], Iterable[FileEntry]]
HEEL_KEEPER = next(one.machine for one in STAGES if one.keeps_heel)
_SLUG = re.compile(r"^[a-z0-9][a-z0-9_-]{0,39}\Z")
_CODE = re.compile(r"\b[LS][0-9]+-[0-9A-Z]\b")


@dataclass
class Loaded:
    """What was loaded.

    Attributes
    ----------
    actor : Actor
        The lead in whose name it was recorded.
    opened : bool
        Whether the workshop was opened for it.
    codes : dict of str to str
        For each lot its name in the file and its code in the book.
    origins : dict of str to str
        For the lots that came in, their name in the file and the code of their origin.
    """

    actor: Actor
    opened: bool
    codes: dict[str, str] = field(default_factory=dict)
    origins: dict[str, str] = field(default_factory=dict)


def entries_load(
    slug: str, entries: Sequence[FileEntry], progress: Progress = iter, append: bool = False
) -> Loaded:
    """Record all entries of a file in a workshop, which is opened when it is new.

    Raises
    ------
    Refused
        Naming the entry that cannot be recorded; then nothing at all was.
    """
    if not _SLUG.match(slug):
        raise Refused.because(
            "slug-wrong",
            say(
                "“{slug}” is no short name: up to 40 small letters, digits, dashes"
                " and underscores.",
                slug=slug,
            ),
        )
    with transaction.atomic():
        loaded = _workshop(slug, append)
        _set_up(loaded.actor, entries)
        for one in progress(entries):
            try:
                entry_record(loaded, one)
            except Refused as refused:
                raise _placed(refused, one, loaded) from refused
    return loaded


def _workshop(slug: str, append: bool) -> Loaded:
    if slug not in workshop_ids():
        opened = workshop_open(
            WorkshopEntry(
                name=slug.replace("-", " ").replace("_", " ").capitalize(),
                slug=slug,
                lead_name="Lead",
                username=f"{slug}-lead",
                password=secrets.token_urlsafe(24),
            )
        )
        return Loaded(opened, True)
    lead = lead_of(slug)
    if lead is None:
        raise Conflict.because("lead-missing", say("The workshop “{slug}” has no lead.", slug=slug))
    if last_sequence(lead.workshop_id) and not append:
        raise Conflict.because(
            "book-not-empty",
            say(
                "The book of “{slug}” is not empty, and a file loaded twice would"
                " count twice. Add --append to record these entries on top of what"
                " is there.",
                slug=slug,
            ),
        )
    return Loaded(lead, False)


def _set_up(actor: Actor, entries: Sequence[FileEntry]) -> None:
    """Add the sources, programmes, machines and polymers that entries name and nobody has."""
    sources, programmes, machines, polymers = {}, {}, {}, {}
    for one in entries:
        entry = one.entry
        if isinstance(entry, OriginEntry):
            sources[entry.source] = SourceEntry(entry.source)
            programmes[entry.programme] = ProgrammeEntry(entry.programme)
            for bag in entry.bags:
                machines[bag.machine] = MachineEntry(bag.machine, HEEL_KEEPER)
                polymers[bag.polymer] = PolymerEntry(bag.polymer)
            continue
        declared = stage(entry.stage)
        machines[entry.machine] = MachineEntry(entry.machine, declared.machine if declared else "")
        named = [entry.polymer, *(output.polymer for output in entry.outputs)]
        for code in named + ([entry.heel.polymer] if entry.heel else []):
            polymers[code] = PolymerEntry(code)
    each: tuple[tuple[Mapping[str, Any], set[str], Callable[[Actor, Any], Any]], ...] = (
        (sources, {one.name for one in known.sources(actor)}, setting_up.source_add),
        (programmes, {one.name for one in known.programmes(actor)}, setting_up.programme_add),
        (machines, {one.name for one in known.machines(actor)}, setting_up.machine_add),
        (polymers, {one.code for one in known.polymers(actor)}, setting_up.polymer_add),
    )
    for wanted, have, add in each:
        for name, new in wanted.items():
            if name and name not in have:
                add(actor, new)


def entry_record(loaded: Loaded, one: FileEntry) -> None:
    """Record one entry, its lots under the codes that they got; raises Refused."""
    recorded: OriginRecorded | RunRecorded
    unaccounted_mg = None
    if isinstance(one.entry, OriginEntry):
        recorded = origin_record(loaded.actor, one.entry)
        loaded.origins.update(dict.fromkeys(one.makes, recorded.code))
    else:
        deed = lots_count if one.entry.counts else run_record
        recorded = deed(loaded.actor, _with_codes(one.entry, loaded.codes))
        unaccounted_mg = recorded.unaccounted_mg
    if one.unaccounted_mg not in (None, unaccounted_mg):
        raise Refused.because(
            "unaccounted-differs",
            say(
                "The file says {unaccounted_mg} mg are unaccounted, but what it"
                " lists leaves {unaccounted_mg_2} mg.",
                unaccounted_mg=one.unaccounted_mg,
                unaccounted_mg_2=unaccounted_mg,
            ),
            "/unaccounted_mg",
        )
    loaded.codes.update(zip(one.makes, (lot.code for lot in recorded.lots), strict=True))


def _with_codes(entry: RunEntry, codes: dict[str, str]) -> RunEntry:
    return replace(
        entry,
        inputs=tuple(replace(draw, lot=codes[draw.lot]) for draw in entry.inputs),
        counts=tuple(replace(count, lot=codes[count.lot]) for count in entry.counts),
        feeds=tuple(replace(feed, lot=codes[feed.lot]) for feed in entry.feeds),
    )


def _placed(refused: Refused, one: FileEntry, loaded: Loaded) -> Refused:
    """Say of a refusal which entry it is about, with the file's own names of lots."""
    names = {code: name for name, code in loaded.codes.items()}

    def named(match: re.Match[str]) -> str:
        code = match[0]
        return f"{code} (“{names[code]}” in the file)" if code in names else code

    return type(refused)(
        *(
            Problem(
                problem.code,
                say(
                    "Entry {place}, {one}: {named}",
                    place=one.place + 1,
                    one=one.title,
                    named=_CODE.sub(named, problem.detail),
                ),
                f"/entries/{one.place}{problem.pointer}",
            )
            for problem in refused.problems
        )
    )
