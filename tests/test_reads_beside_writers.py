"""People read while others record, over the real server: no answer contradicts itself."""

from __future__ import annotations

import threading
import uuid
from itertools import count

import pytest
from django.db import connection

from recycling.queries.integrity.audit import audit
from tests.factories import KeyFactory, WorkshopFactory
from tests.histories import Told
from tests.serving import Caller, served

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]
STORY = """
C1: bottles PET 50kg
C2: bottles PET 50kg
R1 sort C1.1 4kg, C2.1 1kg -> clean bottles 4kg, ~residue 1g
R2 shred R1.1 all -> flake 3.9kg
"""
READS, AUDITS, WRITERS = 100, 45, 2


def test_no_read_and_no_audit_beside_writers_is_wrong(tmp_path, capsys):
    told = Told(WorkshopFactory()).tell(STORY)
    key = KeyFactory(actor=told.actor, scope="manage").secret
    draws = [told.posting("R1", "C1.1"), told.posting("R1", "C2.1")]
    enough, failed, written = threading.Event(), [], [0] * WRITERS
    masses = count(1_000_000, 1_000)

    def write(port: int, place: int) -> None:
        caller = Caller(port, key)
        try:
            while not enough.is_set():
                body = {"mass_mg": next(masses), "reason": "misread"}
                path = f"/postings/{draws[place]}/corrections/"
                assert caller.post(path, body, str(uuid.uuid4())).status == 201
                written[place] += 1
        except BaseException as error:
            failed.append(error)

    with served(tmp_path) as port:
        writers = [threading.Thread(target=write, args=(port, place)) for place in range(WRITERS)]
        for writer in writers:
            writer.start()
        reader = Caller(port, key)
        try:
            wrong = sum(_contradicts(reader, told) for _ in range(READS))
            unsound = sum(bool(audit(told.actor.workshop_id)) for _ in range(AUDITS))
        finally:
            enough.set()
            for writer in writers:
                writer.join()
    assert not failed and min(written) > 0, failed
    with capsys.disabled():
        print(  # noqa: T201
            f"\n{connection.vendor}: {wrong} of {2 * READS} reads contradict themselves, {unsound}"
            f" of {AUDITS} audits are wrong, beside {sum(written)} corrections",
            end=" ",
        )
    assert (wrong, unsound) == (0, 0)


def _contradicts(reader: Caller, told: Told) -> int:
    """Count answers, of a lot and of a run, whose masses are not those of their own postings."""
    code = told.code("C1.1")
    lot, run = (
        reader.get(f"/{path}/").json() for path in (f"lots/{code}", f"runs/{told.code('R1')}")
    )
    on_hand = sum(row["mass_mg"] for row in lot["postings"])
    drawn = {row["lot"]: row["mass_mg"] for row in run["inputs"]}
    posted = dict.fromkeys(drawn, 0)
    for row in run["postings"]:
        if row["account"] == "lot" and row["lot"] in posted:
            posted[row["lot"]] -= row["mass_mg"]
    return (on_hand != lot["mass_mg"]) + (drawn != posted)
