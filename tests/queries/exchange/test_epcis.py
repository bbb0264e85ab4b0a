"""EPCIS documents of whole books: valid to the official schema, true to the book.

Sources: the GS1 EPCIS 2.0 JSON Schema, JSON-LD context and example documents, unchanged; the
meaning of an error declaration by EPCIS 2.0, section 7.4.1.2.
"""

from __future__ import annotations

import copy
import json
from collections import Counter
from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.demo import cast
from recycling.demo.season import make_season
from recycling.ledger.models import Posting
from recycling.models import Lot, Run, Source
from recycling.queries.exchange.exports import exported
from recycling.queries.people.workshops import lead_of
from recycling.records.exchange.exports import ExportWanted
from recycling.tables.exchange.epcis import epcis_events, epcis_lines
from recycling.tables.exchange.epcis_checks import NotSent, checked
from shared.errors import Refused, Unknown
from tests.checked import standard
from tests.factories import KG, START, G
from tests.histories import tell
from tests.queries.exported import BOOK, assert_valid, problems
from tests.random_books import random_book

pytestmark = pytest.mark.django_db
SECRETS = ("Ada", "looks odd", "looked at", "shelf 3", "Source of", "so said")


def document(actor, **wanted):
    return json.loads("".join(epcis_lines(exported(actor, ExportWanted(**wanted)))))


def events_of(document):
    return document["epcisBody"]["eventList"]


@pytest.fixture
def told(db):
    return tell(BOOK)


@pytest.fixture(scope="module")
def season(module_book):
    make_season(timezone.now())
    return lead_of(cast.WORKSHOP.slug)


def standing(events):
    """Leave out what was declared wrong."""
    return [event for event in events if "errorDeclaration" not in event]


def masses(events, *lists):
    """Add up quantities by thing, in whole mg."""
    found = Counter()
    for event in events:
        for name in lists:
            for one in event.get(name, ()):
                if "quantity" in one:
                    assert one["uom"] == "KGM"
                    found[one["epcClass"]] += round(one["quantity"] * KG)
    return found


def lost(event):
    return sum(
        round(report["value"] * KG)
        for element in event.get("sensorElementList", ())
        for report in element["sensorReport"]
        if report["type"] == "Mass"
    )


def assert_true_to_the_book(actor, events):
    """Lots as made, runs that close, and what is on hand follow from the events alone."""
    stand = standing(events)
    codes = {lot["id"]: lot["book:code"] for event in stand for lot in event.get("book:lots", ())}
    adds = [event for event in stand if event.get("action") == "ADD"]
    given = masses(stand, "outputQuantityList") + masses(adds, "quantityList")
    made = dict(
        Lot.objects.filter(workshop_id=actor.workshop_id, made_mg__gt=0).values_list(
            "code", "made_mg"
        )
    )
    assert {codes[thing]: mass for thing, mass in given.items()} == made
    leaving = [event for event in stand if event.get("bizStep") in ("shipping", "destroying")]
    drawn = masses(stand, "inputQuantityList") + masses(leaving, "quantityList")
    drawn_of = {codes[thing]: mass for thing, mass in drawn.items()}
    counted = {posted["account__lot__code"] for posted in _counts(actor)}
    for code, on_hand in Lot.objects.filter(workshop_id=actor.workshop_id).values_list(
        "code", "account__balance_mg"
    ):
        if code not in counted:
            assert made.get(code, 0) - drawn_of.get(code, 0) == on_hand, code


def _counts(actor):
    return Posting.objects.filter(
        entry__book_id=actor.workshop_id, entry__process__run__stage="count"
    ).values("account__lot__code")


def assert_runs_close(actor, events):
    by_run = {}
    for event in standing(events):
        if event["type"] == "TransformationEvent" or lost(event):
            by_run.setdefault(event["book:run"], []).append(event)
    closed = set(
        Run.objects.filter(workshop_id=actor.workshop_id, state=Run.CLOSED).values_list(
            "code", flat=True
        )
    )
    assert by_run.keys() & closed
    for code in by_run.keys() & closed:
        went_in = sum(masses(by_run[code], "inputQuantityList").values())
        came_out = sum(masses(by_run[code], "outputQuantityList").values())
        assert went_in == came_out + sum(map(lost, by_run[code])), code


def test_the_official_examples_are_valid_and_mutations_are_not():
    """A wrong business step, an unknown key and a bare lot id, found by running the schema."""
    files = sorted(standard("epcis/examples").glob("*.jsonld"))
    assert len(files) >= 12
    for file in files:
        example = json.loads(file.read_text(encoding="utf-8"))
        assert not problems(example), file.name
        for event in events_of(example):
            assert checked(event) is event
    example = json.loads(standard("epcis/examples/Example_9.6.1-ObjectEvent.jsonld").read_text())
    for path, value in (("bizStep", "shredding"), ("unknown", 1), ("epcList", ["L345-L"])):
        wrong = copy.deepcopy(example)
        events_of(wrong)[0][path] = value
        assert problems(wrong), path


def test_what_the_schema_lets_pass_the_service_refuses_itself():
    """The schema accepts zero, negative and doubled quantities (found by running it)."""
    name = "transformation_event_all_possible_fields.jsonld"
    example = json.loads(standard(f"epcis/examples/{name}").read_text(encoding="utf-8"))
    event = events_of(example)[0]
    changes = (
        lambda one: one["inputQuantityList"][0].update(quantity=0),
        lambda one: one["outputQuantityList"][0].update(quantity=-1),
        lambda one: one["inputQuantityList"].append(one["inputQuantityList"][0]),
        lambda one: one["errorDeclaration"].update(reason="did_not_occur"),
        lambda one: one["errorDeclaration"].pop("correctiveEventIDs"),
        lambda one: one["errorDeclaration"].update(correctiveEventIDs=[one["eventID"]]),
    )
    assert checked(event)
    for change in changes:
        wrong = copy.deepcopy(event)
        change(wrong)
        assert not problems({"@context": example["@context"], **wrong})
        with pytest.raises(NotSent):
            checked(wrong)


def test_every_kind_of_event_is_valid_and_true_to_the_book(told):
    found = document(told.actor)
    assert_valid(found)
    steps = {
        (event["type"], event.get("bizStep"), event.get("action")) for event in events_of(found)
    }
    assert steps == {
        ("ObjectEvent", "collecting", "ADD"),
        ("ObjectEvent", "receiving", "ADD"),
        ("ObjectEvent", "stock_taking", "ADD"),
        ("ObjectEvent", "stock_taking", "OBSERVE"),
        ("ObjectEvent", "stock_taking", "DELETE"),
        ("TransformationEvent", "creating_class_instance", None),
        ("TransformationEvent", None, None),
        ("ObjectEvent", "sensor_reporting", "OBSERVE"),
        ("ObjectEvent", "shipping", "OBSERVE"),
        ("ObjectEvent", "destroying", "DELETE"),
        ("ObjectEvent", "holding", "OBSERVE"),
        ("ObjectEvent", "inspecting", "OBSERVE"),
    }
    assert_true_to_the_book(told.actor, events_of(found))
    assert_runs_close(told.actor, events_of(found))


@pytest.mark.slow
def test_the_demo_is_valid_and_true_to_its_book(season):
    found = document(season)
    assert_valid(found)
    assert_true_to_the_book(season, events_of(found))
    assert_runs_close(season, events_of(found))
    kinds = {
        r["type"]
        for e in events_of(found)
        for s in e.get("sensorElementList", ())
        for r in s["sensorReport"]
    }
    assert {"Temperature", "Energy", "Mass"} <= kinds
    text = json.dumps(found, ensure_ascii=False)
    for member in cast.MEMBERS:
        assert member.name not in text
    for source in Source.objects.filter(workshop_id=season.workshop_id):
        assert (source.name in text) <= source.may_be_named, source.name


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_random_histories_are_valid_and_true_to_the_book(seed):
    told = random_book(seed)
    found = document(told.actor)
    assert len(events_of(found)) > 30
    assert_valid(found)
    assert_true_to_the_book(told.actor, events_of(found))
    assert_runs_close(told.actor, events_of(found))
    text = json.dumps(found)
    assert not [secret for secret in SECRETS if secret in text]


def test_a_correction_declares_the_same_event_wrong_and_names_what_corrects_it(told):
    events = {event["eventID"]: event for event in events_of(document(told.actor))}
    sorting = [e for e in events.values() if e.get("book:run") == told.code("R1")]
    first, second, third = sorting
    for old, new in ((first, second), (second, third)):
        assert old["errorDeclaration"]["reason"] == "incorrect_data"
        assert old["errorDeclaration"]["correctiveEventIDs"] == [new["eventID"]]
        assert old["errorDeclaration"]["declarationTime"] == new["recordTime"]
        assert old["eventTime"] == new["eventTime"]
    assert "errorDeclaration" not in third
    sums = [max(masses([one], "inputQuantityList").values()) for one in sorting]
    assert sums == [4_900 * G, 4_800 * G, 4_700 * G]


def test_a_void_did_not_occur_and_has_nothing_that_corrects_it(told):
    (shipped,) = [e for e in events_of(document(told.actor)) if e.get("bizStep") == "shipping"]
    assert shipped["errorDeclaration"]["reason"] == "did_not_occur"
    assert "correctiveEventIDs" not in shipped["errorDeclaration"]


def test_an_event_keeps_its_id_when_it_is_declared_wrong():
    told = tell("C1: bottles PET 5kg\nR1 sort C1.1 4kg -> clean bottles 3.9kg")
    before = events_of(document(told.actor))
    told.tell("correct R1 gave R1.1 3.8kg\nvoid R1")
    after = {event["eventID"]: event for event in events_of(document(told.actor))}
    assert [event["eventID"] for event in before] == list(after)[: len(before)]
    for event in before:
        said = {k: v for k, v in after[event["eventID"]].items() if k != "errorDeclaration"}
        assert said == event
    reasons = [e.get("errorDeclaration", {}).get("reason") for e in after.values()]
    assert reasons == [None, "incorrect_data", "did_not_occur"]


def test_a_correction_to_nothing_did_not_occur():
    told = tell("C1: oversize PET 5kg, 5kg\nopen R1 shred C1.1 1kg\nR1 draws C1.2 1kg")
    told.correct(told.posting("R1", lot="C1.2"), "0")
    draws = [e for e in events_of(document(told.actor)) if e["type"] == "TransformationEvent"]
    assert [e.get("errorDeclaration", {}).get("reason") for e in draws] == [None, "did_not_occur"]


def test_terms_are_those_of_the_official_context(told):
    context = json.loads(standard("epcis/epcis-context.jsonld").read_text(encoding="utf-8"))[
        "@context"
    ]

    def terms(value, known):
        for key, inner in value.items() if isinstance(value, dict) else ():
            if key == "@context" or key.startswith("book:"):
                continue
            assert key in known, key
            scope = known.get(key)
            inside = scope.get("@context", {}) if isinstance(scope, dict) else {}
            parts = inside if isinstance(inside, list) else [inside]
            deeper = {k: v for part in parts for k, v in part.items()}
            for one in inner if isinstance(inner, list) else [inner]:
                if isinstance(one, str) and key in ("bizStep", "disposition", "set", "unset"):
                    assert one in {**known, **deeper}, one
                terms(one, {**known, **deeper})

    found = document(told.actor)
    assert found["@context"][0].endswith("epcis-context.jsonld")
    terms(found, context)
    used = {key for event in events_of(found) for key in event if ":" in key}
    assert used and all(key.startswith("book:") for key in used)


def test_a_source_is_named_only_where_it_agreed():
    told = tell("C1: bottles PET 5kg")
    name, row = "Source of C1", Source.objects.get(workshop_id=told.actor.workshop_id)
    for agreed, kind in ((False, "school"), (True, "school"), (True, "household")):
        row.may_be_named, row.kind = agreed, kind
        row.save()
        (event,) = events_of(document(told.actor))
        assert ("sourceList" in event, event.get("book:sourceName") == name) == (agreed, agreed)
        assert (name in json.dumps(event)) == agreed


def test_a_period_tells_what_happened_in_it_and_what_was_put_right_in_it(told):
    whole = events_of(document(told.actor))
    cut = START + timedelta(hours=5)
    early = events_of(document(told.actor, start=START - timedelta(days=1), end=cut))
    late = events_of(document(told.actor, start=cut, end=timezone.now() + timedelta(days=1)))
    ids = [[event["eventID"] for event in part] for part in (early, late, whole)]
    assert set(ids[0]) | set(ids[1]) == set(ids[2])
    assert all(len(set(part)) == len(part) for part in ids)
    righted = {e["eventID"] for e in whole if "errorDeclaration" in e}
    assert righted <= set(ids[1])
    assert ids[0] == [i for i, e in zip(ids[2], whole, strict=True) if i in ids[0]]


def test_a_lot_tells_its_whole_way_back_and_forth_if_asked(told):
    back = events_of(document(told.actor, lot=told.code("R4.1")))
    runs = {event.get("book:run") for event in back} - {None}
    assert {told.code(name) for name in ("R1", "R2", "R3", "R4", "R7")} <= runs
    assert not runs & {told.code(name) for name in ("R5", "R6", "R8")}
    forth = events_of(document(told.actor, lot=told.code("R1.1"), forward=True))
    assert told.code("R6") in {event.get("book:run") for event in forth}


def test_what_makes_no_sense_is_refused(told):
    now = timezone.now()
    for wanted in (
        {"lot": told.code("R4.1"), "start": now},
        {"forward": True},
        {"start": now, "end": now - timedelta(days=1)},
    ):
        with pytest.raises(Refused):
            exported(told.actor, ExportWanted(**wanted))
    with pytest.raises(Unknown):
        exported(told.actor, ExportWanted(lot="L999-0"))
    other = tell("C1: bottles PET 1kg")
    with pytest.raises(Unknown):
        exported(other.actor, ExportWanted(lot=told.code("R4.1")))


def test_an_empty_period_is_a_valid_document_without_events(lead):
    found = document(lead)
    assert events_of(found) == [] and not problems(found)


def test_names_are_pages_at_the_configured_address_and_never_at_another(told, settings):
    plain = document(told.actor)
    settings.PUBLIC_ADDRESS = "https://ledger.example.org"
    named = document(told.actor)
    assert not problems(named)
    ids = [[event["eventID"] for event in events_of(one)] for one in (plain, named)]
    assert ids[0] == ids[1]
    lots = {lot["id"] for event in events_of(named) for lot in event.get("book:lots", ())}
    page = f"https://ledger.example.org/w/{told.actor.slug}/lots/{told.code('R2.1')}/"
    assert page in lots
    assert "http" not in json.dumps(events_of(plain))


@pytest.mark.slow
def test_reading_costs_as_many_queries_for_a_long_book_as_for_a_short_one(
    told, django_assert_max_num_queries
):
    with django_assert_max_num_queries(70):
        exported(told.actor, ExportWanted())
    random = random_book(1, 120)
    with django_assert_max_num_queries(70):
        assert len(list(epcis_events(exported(random.actor, ExportWanted())))) > 60
