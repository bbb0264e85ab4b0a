"""Pages speak the chosen language; what was refused below is said in it, with the same values."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.utils import translation

from recycling import web
from recycling.records.suspects.ranking import VerdictWanted
from recycling.web.labels.spool_page import PublicVerdictForm
from recycling.web.languages import in_language, refusal_words
from recycling.web.suspects.words import worth
from recycling.web.templatetags.ledger import percent
from recycling.web.templatetags.look import mass_text
from shared.errors import Problem, Refused
from shared.said import say


@pytest.fixture
def german(monkeypatch):
    """Put known translations under German, so that this tests the way and not the catalogue."""
    said = {
        "{stage} gives {value}, not {form}.": "{form} ist nichts, was {stage} gibt: {value}.",
        "Sort": "Sortieren",
        "caps": "Deckel",
        "Not now.": "Nicht jetzt.",
    }
    monkeypatch.setattr("recycling.web.languages.gettext", lambda text: said.get(text, text))


def test_a_sentence_is_said_again_with_its_values(german):
    said = say(
        "{stage} gives {value}, not {form}.", stage="Sort", value="labels, reject", form="caps"
    )
    assert in_language(said) == "Deckel ist nichts, was Sortieren gibt: labels, reject."
    assert str(said) == "Sort gives labels, reject, not caps."


def test_a_name_that_somebody_typed_stays_as_typed(german):
    assert in_language(say("{name} is here.", name="Not now.")) == "Not now. is here."


def test_all_problems_of_a_refusal_are_said(german):
    refused = Refused(Problem("a-b", "Not now."), Problem("c-d", say("{form}!", form="caps")))
    assert refusal_words(refused) == "Nicht jetzt.; Deckel!"


def test_the_language_is_chosen_and_kept(client, lead):
    assert b'lang="en"' in client.get("/sign-in/").content
    answer = client.post("/language/", {"language": "de", "next": "/sign-in/"})
    assert answer["Location"] == "/sign-in/"
    assert b'<html lang="de"' in client.get("/sign-in/").content


def test_a_language_leads_nowhere_else(client, db):
    answer = client.post("/language/", {"language": "de", "next": "https://elsewhere.example/"})
    assert answer["Location"] == "/"


def test_a_browser_that_asks_for_german_gets_it(client, db):
    page = client.get("/sign-in/", headers={"accept-language": "de-DE,de;q=0.9"})
    assert b'<html lang="de"' in page.content


def test_the_api_speaks_english_whatever_is_asked(client, db):
    """The framework brings German words of its own, so this fails where they are let through."""
    plain = client.get("/api/v1/lots/").json()
    assert client.get("/api/v1/lots/", headers={"accept-language": "de"}).json() == plain
    assert "credentials" in plain["detail"]


@pytest.mark.parametrize(
    ("language", "said"),
    [("en", "12.4\N{NARROW NO-BREAK SPACE}%"), ("de", "12,4\N{NARROW NO-BREAK SPACE}%")],
)
def test_figures_are_written_as_the_language_writes_them(language, said):
    with translation.override(language):
        assert percent(0.1236) == said
        assert mass_text(4_310_000)[1] == said[2]


def test_a_language_is_offered_by_its_own_name(client, db):
    client.post("/language/", {"language": "de", "next": "/sign-in/"})
    assert "English</button>" in client.get("/sign-in/").content.decode()


def test_german_nouns_keep_their_capitals_in_choices():
    """Only the first letter is made large: in German every noun has a capital of its own."""
    with translation.override("de"):
        choices = PublicVerdictForm().fields["defects"].choices  # type: ignore[attr-defined]
        said = {str(words) for _, words in choices}
    assert {"Blasen oder Fäden durch Feuchte", "Verstopfte Düse"} <= said
    rooms = (Path(web.__file__).parent).rglob("*.py")
    assert [one.name for one in rooms if ".capitalize(" in one.read_text()] == []


def test_what_a_verdict_is_worth_is_written_in_the_languages_own_numbers():
    wanted = VerdictWanted("S1-2", 0.123, 0.46, "")
    with translation.override("de"):
        assert "0,12 " in worth(wanted)
    assert "0.12 bits" in worth(wanted)
