"""What can be chosen on recording pages: read once for a page, each only when it is asked for."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

from recycling.queries.balance.weighings import sample_means
from recycling.queries.lots.lots import lot_choices
from recycling.queries.people.members import members
from recycling.queries.planning.bench import dried_lots, recent_sources
from recycling.queries.setup import register as setting_up
from recycling.queries.setup.practice import needs_drying_of
from recycling.records.actors import Actor
from recycling.records.lots.lots import LotRow
from recycling.records.planning import DRIED, DriedLot
from recycling.records.setup.register import (
    ContainerRecord,
    MachineRecord,
    ScaleRecord,
    SourceRecord,
)
from recycling.stages.declaration import Stage
from recycling.web.book_words import open_said
from recycling.web.templatetags.look import mass_text, word_for
from shared.codes import read_code

PEOPLE = ("household", "other")
"""Kinds of source whose name may be that of a person."""


class Choices:
    """The workshop's machines, members, polymers, scales, containers, sources and fitting lots."""

    def __init__(self, actor: Actor, draws: Stage | None = None) -> None:
        self.actor, self.draws = actor, draws
        self.forms = draws.usual_forms if draws else ()

    @cached_property
    def _by_use(self) -> tuple[list[LotRow], list[LotRow]]:
        """Lots that the stage usually draws, and the others that it can draw."""
        if self.draws is None:
            return [], []
        lots = lot_choices(self.actor, self.draws.takes, first=self.forms)
        asks = any(self.draws.asks_polymer(lot.form) for lot in lots)
        needs = needs_drying_of(self.actor) if asks else lambda _polymer: None
        usual: list[LotRow] = []
        others: list[LotRow] = []
        for lot in lots:
            fits = self.draws.usually_takes(lot.form, needs(lot.polymer))
            (usual if fits else others).append(lot)
        return usual, others

    @property
    def lots(self) -> list[LotRow]:
        """Lots that the stage usually draws."""
        return self._by_use[0]

    @property
    def other_lots(self) -> list[LotRow]:
        """Lots that it can draw too, though it usually does not."""
        return self._by_use[1]

    @cached_property
    def dried(self) -> dict[str, DriedLot]:
        """How long dried lots that may be drawn have been open to the air."""
        if DRIED not in self.forms:
            return {}
        return {one.lot: one for one in dried_lots(self.actor.workshop_id)}

    def lot(self, code: str) -> LotRow | None:
        """Find a fitting lot by its code, as typed."""
        wanted = read_code(code)
        both = (*self.lots, *self.other_lots)
        return next((lot for lot in both if lot.code == wanted), None)

    def names_of(self, lots: Iterable[LotRow]) -> list[tuple[str, str]]:
        """Name lots in a list."""
        return [(lot.code, lot_name(lot, self.dried.get(lot.code))) for lot in lots]

    @cached_property
    def all_machines(self) -> list[MachineRecord]:
        return setting_up.machines(self.actor)

    def machines(self, kind: str) -> list[MachineRecord]:
        """List machines of a kind; without one, all of them."""
        return [machine for machine in self.all_machines if not kind or machine.kind == kind]

    @cached_property
    def members(self) -> list[tuple[str, str]]:
        """The members who may record, by name; nobody on a copy that a device keeps."""
        if not self.actor.name:
            return []
        return [
            (one.name, one.name) for one in members(self.actor) if one.role in ("lead", "operator")
        ]

    @cached_property
    def polymers(self) -> list[tuple[str, str]]:
        return [
            (one.code, f"{one.code} – {one.name}" if one.name else one.code)
            for one in setting_up.polymers(self.actor)
        ]

    @cached_property
    def scale_records(self) -> list[ScaleRecord]:
        return setting_up.scales(self.actor)

    @cached_property
    def recent_sources(self) -> list[str]:
        """Who gave lately, for one tap."""
        return recent_sources(self.actor)

    @cached_property
    def containers(self) -> list[ContainerRecord]:
        return setting_up.containers(self.actor)

    @cached_property
    def sample_means(self) -> dict[str, float]:
        return sample_means(self.actor)

    @cached_property
    def sources(self) -> list[tuple[str, str]]:
        return [(one.name, one.name) for one in self.listed_sources]

    @property
    def listed_sources(self) -> list[SourceRecord]:
        """Sources that may stand on this page."""
        return [one for one in self._sources if self._may_be_kept(one)]

    @cached_property
    def _sources(self) -> list[SourceRecord]:
        return setting_up.sources(self.actor)

    def _may_be_kept(self, source: SourceRecord) -> bool:
        """On a copy that a device keeps stand houses, and people who agreed to be named."""
        return bool(self.actor.name) or source.may_be_named or source.kind not in PEOPLE

    @property
    def all_sources(self) -> bool:
        """Whether every source stands on this page."""
        return len(self.sources) == len(self._sources)

    @cached_property
    def programmes(self) -> list[tuple[str, str]]:
        return [(one.name, one.name) for one in setting_up.programmes(self.actor)]


def lot_name(lot: LotRow, dried: DriedLot | None = None) -> str:
    """Name a lot in a list: its code, what it is, what is on hand, and whether it lay open."""
    what = " ".join(part for part in (word_for(lot.form, "form"), lot.polymer, lot.colour) if part)
    name = f"{lot.code} · {what} · {mass_text(lot.mass_mg)}"
    return f"{name} · {open_said(dried)}" if dried and dried.over else name
