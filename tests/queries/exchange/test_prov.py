"""PROV documents: another library reads, round-trips and draws them; the same edges as the trace.

Sources: W3C PROV-JSON (Member Submission, 24 April 2013), as read by the ``prov`` library.
"""

from __future__ import annotations

import json

import pytest
from django.utils import timezone
from prov.model import (
    ProvAssociation,
    ProvDerivation,
    ProvDocument,
    ProvGeneration,
    ProvUsage,
)

from recycling.demo import cast
from recycling.demo.season import make_season
from recycling.models import Draw, Lot, Run, Source
from recycling.queries.exchange.exports import exported
from recycling.queries.lots.traces import trace
from recycling.queries.people.workshops import lead_of
from recycling.records.exchange.exports import ExportWanted
from recycling.tables.exchange.prov import prov_lines
from tests.factories import MemberFactory
from tests.histories import tell
from tests.queries.exported import BOOK
from tests.random_books import random_book

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def season(module_book):
    make_season(timezone.now())
    return lead_of(cast.WORKSHOP.slug)


def document(actor, **wanted):
    lines = prov_lines(exported(actor, ExportWanted(**wanted), events=False))
    return json.loads("".join(lines))


def read(said) -> ProvDocument:
    return ProvDocument.deserialize(content=json.dumps(said), format="json")


def edges(document: ProvDocument) -> set[tuple[str, str, str, int]]:
    """Read the edges back with the other library: (run, lot, direction, mass in mg)."""
    found = set()
    for kind, direction in ((ProvUsage, "in"), (ProvGeneration, "out")):
        for record in document.get_records(kind):
            said = {str(name.localpart): value for name, value in record.attributes}
            found.add(
                (said["activity"].localpart, said["entity"].localpart, direction, said["mass_mg"])
            )
    return found


def edges_of(trace) -> set[tuple[str, str, str, int]]:
    return {(edge.run, edge.lot, edge.direction, edge.mass_mg) for edge in trace.edges}


def edges_of_the_book(actor) -> set[tuple[str, str, str, int]]:
    draws = Draw.objects.filter(run__workshop_id=actor.workshop_id, run__state=Run.CLOSED)
    given = Lot.objects.filter(workshop_id=actor.workshop_id, made_by__state=Run.CLOSED)
    return {
        (*one, "in", mass)
        for *one, mass in draws.filter(mass_mg__gt=0).values_list(
            "run__code", "lot__code", "mass_mg"
        )
    } | {
        (*one, "out", mass)
        for *one, mass in given.filter(made_mg__gt=0).values_list(
            "made_by__code", "code", "made_mg"
        )
    }


def test_a_lot_has_the_edges_of_its_trace_back_and_both_ways():
    told = tell(BOOK)
    for name in ("R4.1", "R1.1", "C1.1", "R2.1"):
        code = told.code(name)
        back = read(document(told.actor, lot=code))
        assert edges(back) == edges_of(trace(told.actor, code, "ancestors"))
        both = read(document(told.actor, lot=code, forward=True))
        assert edges(both) == edges_of(trace(told.actor, code, "both"))


@pytest.mark.slow
def test_the_demo_reads_back_round_trips_and_draws(season):
    said = document(season)
    found = read(said)
    again = ProvDocument.deserialize(content=found.serialize(format="json"), format="json")
    assert again == found
    assert edges(found) == edges_of_the_book(season)
    assert found.get_provn().count("wasGeneratedBy(") == len(
        list(found.get_records(ProvGeneration))
    )
    spool = Lot.objects.filter(workshop_id=season.workshop_id, spool__isnull=False).last()
    assert spool is not None
    one = read(document(season, lot=spool.code))
    assert edges(one) == edges_of(trace(season, spool.code, "ancestors"))


def test_a_picture_has_every_lot_and_run():
    """Drawing needs the ``dot`` extra of ``prov``; without it this is skipped."""
    pytest.importorskip("pydot")
    from prov.dot import prov_to_dot

    told = tell(BOOK)
    said = document(told.actor, lot=told.code("R4.1"))
    drawn = prov_to_dot(read(said)).to_string()
    for code in (key.partition(":")[2] for key in {**said["entity"], **said["activity"]}):
        assert code in drawn


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_random_books_have_the_edges_of_the_book(seed):
    told = random_book(seed)
    found = read(document(told.actor))
    assert edges(found) == edges_of_the_book(told.actor)
    assert len(edges(found)) > 10


def test_each_lot_is_derived_from_all_that_its_run_drew():
    told = tell(
        "C1: bottles PET 5kg, 3kg\nR1 sort C1.1 4kg, C1.2 1kg -> clean bottles 4kg, caps HDPE 9g"
    )
    pairs = set()
    for record in read(document(told.actor)).get_records(ProvDerivation):
        said = {str(name.localpart): value.localpart for name, value in record.attributes}
        assert said["activity"] == told.code("R1")
        pairs.add((said["generatedEntity"], said["usedEntity"]))
    assert pairs == {
        (told.code(made), told.code(drawn))
        for made in ("R1.1", "R1.2")
        for drawn in ("C1.1", "C1.2")
    }


def test_agents_are_roles_and_no_names_leave():
    told = tell("C1: bottles PET 5kg")
    operator = MemberFactory(actor=told.actor, name="Oskar Lind")
    told.actor = operator
    told.tell("R1 sort C1.1 4kg -> clean bottles 4kg")
    Source.objects.update(may_be_named=True)
    said = document(told.actor)
    found = read(said)
    roles = {
        tuple(str(value.localpart) for _, value in record.attributes)
        for record in found.get_records(ProvAssociation)
    }
    assert (told.code("R1"), "operator") in roles
    text = json.dumps(said)
    assert not [name for name in ("Oskar", "Lind", "Ada", str(operator.reference)) if name in text]


def test_pieces_make_one_json_text_even_for_an_empty_book(lead):
    said = json.loads("".join(prov_lines(exported(lead, ExportWanted(), events=False))))
    assert list(read(said).get_records(ProvUsage)) == []
