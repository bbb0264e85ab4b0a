"""One rule says who may be named, and what is written after it changed follows it."""

from __future__ import annotations

from pathlib import Path

import pytest

import recycling
from recycling.models import Source
from recycling.queries.exchange.exports import exported
from recycling.queries.labels.spool_page import public_spool
from recycling.records.exchange.exports import ExportWanted
from recycling.records.setup.changes import SourceChange
from recycling.reports.asked import report_file
from recycling.reports.public import public_report
from recycling.services.labels import link_give
from recycling.services.reports.links import report_link_give
from recycling.services.setup.change import source_change
from recycling.tables.exchange.epcis import epcis_lines
from recycling.tables.exchange.prov import prov_lines
from shared.errors import Unknown
from tests.histories import tell
from tests.reports.conftest import STORY, made
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
NAME = "Source of C1"
TELLING = ("reports", "services", "tables", "figures", "tasks")
"""Rooms that tell something to others, besides queries; none of them may ask on its own."""
PAGES_OF_THE_WORKSHOP = {
    "queries/lots/origins.py",
    "queries/setup/register.py",
    "services/people/erasures.py",
}
"""What shows members what a source said, or erases it; nobody is left out by it."""


@pytest.fixture
def told(db):
    told = tell(f"{STORY}R5 dispatch R4.1 all\n")
    link = link_give(told.actor, told.code("R4.2"))
    told.results["spool"] = link.token
    return told


def agrees(told, answer: bool) -> None:
    source = Source.objects.get(workshop_id=told.actor.workshop_id, name=NAME)
    source_change(told.actor, source.pk, SourceChange(kind="household", may_be_named=answer))


def written(told) -> dict[str, str]:
    """Write anew all that leaves the workshop by itself or may be handed on."""
    found = exported(told.actor, ExportWanted())
    spool = public_spool(told.results["spool"])
    return {
        "report": report_file(told.actor, made(told), "json")[1].decode(),
        "public page": " ".join(part.name for part in spool.sources),
        "epcis": "".join(epcis_lines(found)),
        "prov": "".join(prov_lines(found)),
    }


def test_a_name_is_in_what_is_written_while_its_source_agrees_and_in_nothing_later(told):
    for agreed, holders in (
        (False, set()),
        (True, {"report", "public page", "epcis"}),
        (False, set()),
    ):
        agrees(told, agreed)
        found = written(told)
        assert {place for place, text in found.items() if NAME in text} == holders
        assert all("Source of C2" not in text for text in found.values())


def test_thanks_name_whom_they_are_for_and_are_shown_only_while_that_agrees(told):
    agrees(told, True)
    thanks = made(told, kind="thanks", source=NAME)
    link = report_link_give(told.actor, thanks)
    assert public_report(link.token).frozen.code == thanks
    agrees(told, False)
    with pytest.raises(Unknown):
        public_report(link.token)
    with refused("consent-missing"):
        report_link_give(told.actor, made(told, kind="thanks", source=NAME))


def test_nothing_that_tells_of_others_has_a_rule_of_its_own():
    root = Path(recycling.__file__).parent
    asking = {
        path.relative_to(root).as_posix()
        for room in ("queries", *TELLING)
        for path in (root / room).rglob("*.py")
        if "may_be_named" in path.read_text()
    }
    assert asking == {"queries/people/consent.py", *PAGES_OF_THE_WORKSHOP}
    for room in ("queries", *TELLING):
        for path in (root / room).rglob("*.py"):
            said = "household" in path.read_text()
            classes = {root / "reports" / name for name in ("givers.py", "fates.py")}
            assert not said or path in classes, path
