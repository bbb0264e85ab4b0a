"""The worked books: histories whose every figure was worked out by a separate program.

Source: ``tests/checks/book_*.json`` (invented data; exact fractions
worked out apart from this project). The whole book is replayed through the services.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

import pytest

from recycling.queries.balance.balance import balance_now, stages_balance, statement
from recycling.queries.integrity.audit import audit
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import lot_origins, origin_spools
from recycling.queries.lots.traces import trace
from recycling.tables.lists.entries_file import read_entries
from recycling.tasks.lists.load import Loaded, entries_load
from tests.checked import check_text

CLOSE_ENOUGH_MG = 5
pytestmark = pytest.mark.django_db


@dataclass
class Book:
    name: str
    loaded: Loaded
    expected: dict

    @property
    def actor(self):
        return self.loaded.actor

    def origin_of(self, lot: str) -> str:
        return self.loaded.origins[lot]


@pytest.fixture(scope="module", params=["book_120", "book_600"])
def book(request, module_book):
    text = check_text(f"{request.param}.json")
    loaded = entries_load(request.param.replace("_", "-"), read_entries(text))
    return Book(request.param, loaded, json.loads(text)["expected"])


def test_every_lot_has_on_hand_what_was_worked_out(book):
    now = {row.code: row.mass_mg for row in balance_now(book.actor).lots}
    assert len(book.loaded.codes) == len(book.expected["on_hand_mg"])
    found = {name: now.get(code, 0) for name, code in book.loaded.codes.items()}
    assert found == book.expected["on_hand_mg"]


def test_what_is_on_hand_in_process_and_over_the_border_adds_up_to_zero(book):
    assert balance_now(book.actor).total_mg == 0


def test_every_spool_is_composed_as_worked_out_and_adds_up(book):
    largest, where = 0.0, ""
    assert book.expected["composition_mg"]
    for name, parts in book.expected["composition_mg"].items():
        origins = lot_origins(book.actor, book.loaded.codes[name])
        found = {part.code: part.mass_mg for part in origins.origins}
        assert sum(found.values()) + origins.traces_mg == origins.mass_mg
        for lot, mass_mg in parts.items():
            off = abs(found.pop(book.origin_of(lot), 0) - mass_mg)
            if off > largest:
                largest, where = off, f"{name} from {lot}"
        assert not found, f"{name} holds some of {found}, which was not worked out"
    print(f"\n{book.name}: largest difference {largest:.3f} mg, {where}")  # noqa: T201
    assert largest <= CLOSE_ENOUGH_MG


def test_chosen_spools_agree_with_exact_fractions(book):
    assert book.expected["exact_composition"]
    for name, shares in book.expected["exact_composition"].items():
        origins = lot_origins(book.actor, book.loaded.codes[name])
        found = {part.code: part.mass_mg for part in origins.origins}
        assert sum(map(Fraction, shares.values())) == 1
        for lot, share in shares.items():
            exact_mg = Fraction(share) * origins.mass_mg
            assert abs(found.get(book.origin_of(lot), 0) - exact_mg) <= CLOSE_ENOUGH_MG


def test_collections_lead_to_exactly_the_spools_worked_out(book):
    names = {code: name for name, code in book.loaded.codes.items()}
    assert book.expected["forward"]
    for lot, spools in book.expected["forward"].items():
        found = [names[one.lot] for one in origin_spools(book.actor, book.origin_of(lot))]
        assert sorted(found) == sorted(spools)
        below = trace(book.actor, book.loaded.codes[lot], "descendants").lots
        assert {names[one.code] for one in below if one.form == "filament"} == set(spools)


def test_stages_add_up_as_worked_out(book):
    whole = book.expected["statements"][-1]
    lines = {
        line.stage: line
        for line in stages_balance(book.actor, _moment(whole["from"]), _moment(whole["to"]))
    }
    assert set(book.expected["stages"]) == set(lines) - {"receive"}
    for stage, figures in book.expected["stages"].items():
        line = lines[stage]
        found = {"inputs": line.inputs_mg, "unaccounted": line.unaccounted_mg}
        found |= line.outputs_mg | line.losses_mg
        assert {f"{name}_mg": mass for name, mass in found.items() if mass} == figures


def test_statements_close_as_worked_out(book):
    assert len(book.expected["statements"]) == 3
    for figures in book.expected["statements"]:
        lines = statement(book.actor, _moment(figures["from"]), _moment(figures["to"]))
        assert [line.difference_mg for line in lines] == [0] * len(lines)
        whole = lines[-1]
        found = {
            "opening_mg": whole.opening_mg,
            "received_mg": whole.received_mg,
            "unaccounted_mg": whole.unaccounted_mg,
            "closing_mg": whole.closing_mg,
        } | {f"{name}_mg": mass for name, mass in whole.losses_mg.items() if name != "residue"}
        assert found == {key: figures[key] for key in figures if key not in ("from", "to")}
        others = (whole.dispatched_mg, whole.discarded_mg, whole.losses_mg["residue"])
        assert others == (0, 0, 0)
        assert (whole.in_process_mg, whole.reclassified_mg) == (0, 0)


def test_one_period_closes_where_the_next_opens(book):
    first, second, _ = book.expected["statements"]
    closing = statement(book.actor, _moment(first["from"]), _moment(first["to"]))
    opening = statement(book.actor, _moment(second["from"]), _moment(second["to"]))
    held = {line.polymer: line.closing_mg + line.in_process_mg for line in closing}
    assert held == {line.polymer: line.opening_mg for line in opening if line.polymer in held}


def test_lots_say_what_was_used_of_them(book):
    for name, code in list(book.loaded.codes.items())[::7]:
        lot = lot_page(book.actor, code)
        assert lot.made_mg - sum(use.mass_mg for use in lot.uses) == lot.mass_mg
        assert lot.mass_mg == book.expected["on_hand_mg"][name]


def test_the_audit_finds_nothing(book):
    assert audit(book.actor.workshop_id) == []


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
