"""Putting a run right by request: corrections, voids and Undo, each looked at before if wished."""

from __future__ import annotations

from api.protocol.bodies import CorrectionBody, NothingBody, UndoBody, VoidBody
from api.protocol.requests import Door, records
from api.runs.doors import run_shown
from recycling.records.actors import Actor
from recycling.records.lots.changes import FactsUndone
from recycling.records.recorded import Corrected
from recycling.records.runs.entries import CorrectionEntry
from recycling.services.rehearsal import rehearse
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.undo import correction_undo, run_undo
from recycling.services.runs.undo_facts import facts_undo
from recycling.services.runs.void import run_void


class RunVoidApi(Door):
    needs = {"POST": "void"}

    @records(VoidBody, Corrected, status=200, guard=run_shown)
    def post(self, actor: Actor, body: VoidBody, code: str) -> Corrected:
        """Take a run back by opposite postings, alone or with what followed."""
        return run_void(actor, code, body.reason, body.with_descendants)


class RunVoidTrialApi(Door):
    needs = {"POST": "void"}

    @records(VoidBody, Corrected, status=200)
    def post(self, actor: Actor, body: VoidBody, code: str) -> Corrected:
        """Say what voiding a run would change, and change nothing."""
        return rehearse(lambda: run_void(actor, code, body.reason, body.with_descendants))


class RunUndoApi(Door):
    needs = {"POST": "record"}

    @records(UndoBody, Corrected, status=200)
    def post(self, actor: Actor, body: UndoBody, code: str) -> Corrected:
        """Take back a run just recorded whole, or what was recorded last of one that goes on."""
        return run_undo(actor, code, body.undo_until)


class PostingCorrectionsApi(Door):
    needs = {"POST": "correct"}

    @records(CorrectionBody, Corrected)
    def post(self, actor: Actor, body: CorrectionBody, posting: int) -> Corrected:
        """Post the difference between a typed figure and what it should have been."""
        return posting_correct(actor, CorrectionEntry(posting, **vars(body)))


class PostingCorrectionsTrialApi(Door):
    needs = {"POST": "correct"}

    @records(CorrectionBody, Corrected, status=200)
    def post(self, actor: Actor, body: CorrectionBody, posting: int) -> Corrected:
        """Say what a correction would change, and change nothing."""
        return rehearse(lambda: posting_correct(actor, CorrectionEntry(posting, **vars(body))))


class PostingCorrectionsUndoApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, Corrected, status=200)
    def post(self, actor: Actor, body: NothingBody, posting: int) -> Corrected:
        """Take back the last correction of a figure, by whoever made it just now."""
        return correction_undo(actor, posting)


class FactsUndoApi(Door):
    needs = {"POST": "correct"}

    @records(NothingBody, FactsUndone, status=200)
    def post(self, actor: Actor, body: NothingBody, code: str) -> FactsUndone:
        """Put back what was changed last of a lot, a run or a collection, by whoever did it."""
        return facts_undo(actor, code)
