"""Parts of the pages that weigh in: who gave, what was bought or found, and the bags."""

from __future__ import annotations

from typing import Any

from django.forms import Field
from django.utils.translation import gettext as _

from recycling.queries.balance.usual_figures import usual_here
from recycling.queries.planning.bench import last_programmes
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.stages import RECEIVING, first_of
from recycling.stages.declaration import FORMS, HEEL
from recycling.web.forms.choices import Choices
from recycling.web.forms.declared import words_of
from recycling.web.forms.fields import FEW, LinesField, MomentField, Typed, WholeField, choice_field
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.plain import Suggested
from recycling.web.forms.usual import lay_usual
from recycling.web.forms.weighing import (
    lay_how,
    lay_scale,
    lay_weighing,
    point_weighing,
    read_weighing,
)
from recycling.web.templatetags.look import word_for
from shared.declared import declared_in

HEAD_FIELDS = tuple(
    name for name in declared_in(OriginEntry) if name not in ("kind", "happened_at", "bags")
)


class OriginHead:
    """Who or where it came from, and when."""

    key = "head"

    def __init__(self, choices: Choices, kind: str) -> None:
        self.choices, self.kind = choices, kind

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("head").rows.append(row)
        if self.kind == "collection":
            sources = self.choices.sources
            source = self._source()
            tapped = {name for name, _said in sources} & set(self.choices.recent_sources)
            if tapped and len(sources) > FEW:
                source.taps = [  # type: ignore[attr-defined]
                    {"label": name, "value": name}
                    for name in self.choices.recent_sources
                    if name in tapped
                ]
                source.then = "id_bags-0-gross"  # type: ignore[attr-defined]
            form.add(row, "source", source)
            if self.choices.programmes:
                named = self.choices.programmes
                said = words_of(OriginEntry, "programme")
                programme = choice_field(**said, choices=named, empty=_("none"), few=False)
                form.add(row, "programme", programme)
                self._propose(form)
        if self.kind == "purchase":
            for name in ("supplier", "document"):
                form.add(row, name, Typed(**words_of(OriginEntry, name)))
        moment = MomentField(**words_of(OriginEntry, "happened_at", self.kind))
        form.add(row, "happened_at", moment, beside=self.kind == "collection")
        lay_scale(form, row, self.choices)

    def _propose(self, form: EntryForm) -> None:
        """Propose the programme of the giver's last collection, with script once they are named."""
        named = {name for name, _said in self.choices.sources}
        last = last_programmes(self.choices.actor)
        form.programmes = {name: said for name, said in last.items() if name in named}
        if (chosen := form.typed("source")) in last:
            form.initial["programme"] = last[chosen]

    def _source(self) -> Field:
        """Ask who gave: by choice, or by name where not every name may stand on the page."""
        named, sources = {"required": _("Say who gave it.")}, self.choices.sources
        said: dict[str, Any] = {**words_of(OriginEntry, "source"), "required": True}
        if self.choices.all_sources:
            prompt = _("choose who gave")
            return choice_field(choices=sources, prompt=prompt, error_messages=named, **said)
        hint = _("The name as it is in the book; names of people are not kept on this device.")
        names = Suggested(name for name, _said in sources)
        return Typed(size="long", widget=names, **(said | {"help_text": hint}))

    def read(self, form: EntryForm) -> dict[str, Any]:
        for name in ("happened_at", *HEAD_FIELDS):
            form.point(f"/{name}", "", itself=name)
        return form.cleaned_data


class OriginNotes:
    """What is seldom needed, at the end."""

    key = "notes"

    def __init__(self, kind: str) -> None:
        self.kind = kind

    def lay(self, form: EntryForm) -> None:
        row = Row("", title=_("Note"))
        form.section("notes").rows.append(row)
        if self.kind == "collection":
            form.add(row, "consent", Typed(**words_of(OriginEntry, "consent")), beside=True)
        form.add(row, "note", LinesField(**words_of(OriginEntry, "note")), beside=True)

    def read(self, form: EntryForm) -> None:
        return None


class Bags:
    """Bags or boxes; each becomes a lot. A bag with no figure at all was not there."""

    key = "bags"

    def __init__(self, choices: Choices, kind: str, start: int = 1) -> None:
        self.choices, self.kind, self.start = choices, kind, start
        self.rows: list[Row] = []

    def lay(self, form: EntryForm) -> None:
        keys = form.row_keys("bags", ["row"] * self.start)
        titles = {
            "collection": _("Bag %d"),
            "purchase": _("Package %d"),
            "opening": _("Stock item %d"),
        }
        section = form.section("bags")
        section.more.append(("bags", {"collection": _("Add a bag")}.get(self.kind, _("Add one"))))
        self.rows = []
        for place in range(len(keys)):
            row = Row(f"bags-{place}", titles[self.kind] % (place + 1))
            section.rows.append(row)
            self.rows.append(row)
            self._lay_row(form, row)
        received = first_of(RECEIVING)
        usual = usual_here(self.choices.actor.workshop_id, received.key)
        lay_usual(form, self.choices, usual, received, {row.prefix: "" for row in self.rows})
        form.keep_rows("bags", keys)
        if self.kind == "collection":
            form.carry(section, ("tare", "container"))

    def _lay_row(self, form: EntryForm, row: Row) -> None:
        usual = self.kind == "collection"
        if not usual:
            self._lay_what(form, row, beside=False)
        lay_weighing(form, row, self.choices.containers)
        if usual:
            self._lay_what(form, row, beside=True)
        form.add(row, "colour", Typed(**words_of(BagEntry, "colour")), beside=True)
        form.add(row, "count", WholeField(**words_of(BagEntry, "count")), beside=True)
        lay_how(form, row, self.choices.sample_means)
        form.add(row, "note", Typed(**words_of(BagEntry, "note")), beside=True)

    def _lay_what(self, form: EntryForm, row: Row, beside: bool) -> None:
        forms = [(one, word_for(one, "form")) for one in FORMS if one != HEEL]
        if self.kind == "opening":
            forms.append((HEEL, _("heel: what is in a machine")))
        start = {"collection": "bottles", "purchase": "pellets"}.get(self.kind, "bottles")
        what = choice_field(**words_of(BagEntry, "form"), choices=forms, initial=start)
        form.add(row, "form", what, beside)
        polymers, usual = self.choices.polymers, words_of(BagEntry, "polymer")
        polymer = choice_field(**usual, choices=polymers, initial="PET", few=False)
        form.add(row, "polymer", polymer, beside)
        if self.kind == "opening":
            machines = [(one.name, one.name) for one in self.choices.all_machines]
            machine = choice_field(
                **words_of(BagEntry, "machine"),
                choices=machines,
                empty=_("not a heel"),
                few=False,
            )
            form.add(row, "machine", machine, beside)

    def read(self, form: EntryForm) -> tuple[BagEntry, ...]:
        bags: list[BagEntry] = []
        scale = form.cleaned_data.get("scale") or ""
        for place, row in enumerate(self.rows):
            names = ("gross", "net", "colour", "count", "note")
            typed = any(form.typed(f"{row.prefix}-{name}") for name in names)
            if not typed and not self._own_tare(form, place):
                continue
            weighed = read_weighing(form, row, scale)
            if weighed is None:
                continue
            self._point(form, len(bags), row)
            said = {
                name: form.cleaned_data.get(f"{row.prefix}-{name}") or ""
                for name in ("form", "polymer", "colour", "machine", "note")
            }
            count = form.cleaned_data.get(f"{row.prefix}-count")
            bags.append(BagEntry(weighed.mass_mg, count=count, weighing=weighed.weighing, **said))
        form.point("/bags", "bags-0", itself="gross")
        return tuple(bags)

    def _own_tare(self, form: EntryForm, place: int) -> bool:
        """Whether a tare was typed for this bag, and not only carried over from the one before."""
        tare = form.typed(f"bags-{place}-tare")
        return bool(tare) and (place == 0 or tare != form.typed(f"bags-{place - 1}-tare"))

    def _point(self, form: EntryForm, number: int, row: Row) -> None:
        pointer = f"/bags/{number}"
        same = ("form", "polymer", "colour", "count", "machine", "note")
        form.point(pointer, row.prefix, itself="gross", **{name: name for name in same})
        point_weighing(form, pointer, row.prefix)
