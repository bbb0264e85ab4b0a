"""A bench to record at, and a browser without script: it sends what the page's form holds."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

import pytest
from django.http import HttpResponse
from django.test import Client

from recycling.models import User
from recycling.records.actors import Actor
from recycling.records.lots.origin_entries import BagEntry
from recycling.stages import STAGES
from tests.factories import (
    KG,
    START,
    ContainerFactory,
    MachineFactory,
    MemberFactory,
    OriginFactory,
    ProgrammeFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
)


class FormReader(HTMLParser):
    """Collects the fields of the form that records, as a browser would send them."""

    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, list[str]] = {}
        self.buttons: list[tuple[str, str]] = []
        self.inside, self.area, self.select = False, "", ""
        self.first_option: dict[str, str] = {}

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "form":
            self.inside = given.get("method") == "post" and "action" not in given
        if not self.inside:
            return
        name, value = given.get("name", ""), given.get("value") or ""
        if tag == "input" and name:
            ticked = given.get("type") in ("radio", "checkbox")
            if not ticked or "checked" in given:
                sent = "on" if ticked and "value" not in given else value
                self.fields.setdefault(name, []).append(sent)
        elif tag == "textarea":
            self.area, self.fields[name] = name, [""]
        elif tag == "select":
            self.select = name
        elif tag == "option" and self.select:
            self.first_option.setdefault(self.select, value)
            if "selected" in given:
                self.fields[self.select] = [value]
        elif tag == "button" and name:
            self.buttons.append((name, value))

    def handle_data(self, data):
        if self.area:
            kept = self.fields[self.area][0] + data
            self.fields[self.area][0] = kept.removeprefix("\n")

    def handle_endtag(self, tag):
        if tag == "textarea":
            self.area = ""
        elif tag == "select":
            self.fields.setdefault(self.select, [self.first_option.get(self.select, "")])
            self.select = ""
        elif tag == "form":
            self.inside = False


def form_of(answer: HttpResponse) -> dict[str, list[str]]:
    reader = FormReader()
    reader.feed(answer.content.decode())
    return reader.fields


@dataclass
class Hand:
    """Somebody at a browser without script."""

    actor: Actor
    client: Client = field(default_factory=Client)

    def url(self, path: str) -> str:
        return f"/w/{self.actor.slug}/{path}"

    def open(self, path: str) -> HttpResponse:
        return self.client.get(self.url(path))

    def fill(self, path: str, **typed: object) -> dict[str, list[str]]:
        """Open a page and type into its form; `__` in a name stands for `-`."""
        answer = self.open(path)
        assert answer.status_code == 200, answer.content.decode()[:2000]
        return self.typed(form_of(answer), **typed)

    @staticmethod
    def typed(form: dict[str, list[str]], **typed: object) -> dict[str, list[str]]:
        for name, value in typed.items():
            values = value if isinstance(value, list) else [str(value)]
            form[name.replace("__", "-")] = values
        return form

    def send(self, path: str, form: dict[str, list[str]], **more: str) -> HttpResponse:
        return self.client.post(self.url(path), {**form, **more})

    def record(self, path: str, **typed: object) -> HttpResponse:
        """Open, fill, send, and look the review over where there is one."""
        answer = self.send(path, self.fill(path, **typed))
        if answer.status_code == 200:
            answer = self.send(path, form_of(answer), step="record")
        return answer

    def recorded(self, path: str, **typed: object) -> str:
        """Record and return the page that says so."""
        answer = self.record(path, **typed)
        assert answer.status_code == 302, problems_of(answer)
        said = self.client.get(answer.url)
        assert said.status_code == 200
        return said.content.decode()


def text_of(answer: HttpResponse) -> str:
    """The words of a page without tags."""

    class Words(HTMLParser):
        def __init__(self):
            super().__init__()
            self.words = []

        def handle_data(self, data):
            self.words.append(data)

    words = Words()
    words.feed(answer.content.decode())
    return " ".join(" ".join(words.words).split())


def problems_of(answer: HttpResponse) -> str:
    """What the summary above a refused form says; else all words of the page."""
    words = text_of(answer)
    start = words.find("Put these right")
    return words[start : start + 600] if start >= 0 else words[:3000]


def hand_of(actor: Actor) -> Hand:
    hand = Hand(actor)
    hand.client.force_login(User.objects.get(memberships__pk=actor.member_id))
    return hand


@pytest.fixture(autouse=True)
def _quick_passwords(settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def set_up() -> Actor:
    """Open a workshop that has everything set up; returns its lead."""
    actor = WorkshopFactory(slug="quay", name="Quay workshop", zone="Europe/Lisbon")
    SourceFactory(actor=actor, name="North school")
    ProgrammeFactory(actor=actor, name="Clean quay")
    ScaleFactory(actor=actor, name="Bench scale")
    ContainerFactory(actor=actor, name="Blue crate", tare_mg=1_250_000)
    for kind in dict.fromkeys(stage.machine for stage in STAGES if stage.machine):
        MachineFactory(actor=actor, name=f"The {kind}", kind=kind)
    return actor


@pytest.fixture(scope="module")
def made_workshop(module_book) -> Actor:
    return set_up()


@pytest.fixture
def lead(made_workshop, db) -> Hand:
    """The lead of a workshop that has everything set up, made once for the module."""
    return hand_of(made_workshop)


@pytest.fixture
def operator(lead) -> Hand:
    return hand_of(MemberFactory(actor=lead.actor, name="Bo", role="operator"))


@pytest.fixture
def viewer(lead) -> Hand:
    return hand_of(MemberFactory(actor=lead.actor, name="Vi", role="viewer"))


@pytest.fixture
def stranger(db) -> Hand:
    """The lead of another workshop."""
    return hand_of(WorkshopFactory(slug="elsewhere", name="Elsewhere"))


@pytest.fixture
def bag(lead):
    """Return a function that puts a lot into the book, through the service."""

    def put(form: str = "bottles", mass_mg: int = 5 * KG, polymer: str = "PET") -> str:
        bags = (BagEntry(mass_mg, form=form, polymer=polymer),)
        return OriginFactory(actor=lead.actor, happened_at=START, bags=bags).lots[0].code

    return put
