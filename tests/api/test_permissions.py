"""Every address × method × caller, held to the one table of roles and scopes."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable, Iterator

import pytest

from api import urls
from api.protocol import requests as doors
from shared.roles import MAY, NEEDS, ROLES, SCOPES
from tests.api.conftest import MemberFactory, program

ADDRESSES = [
    (str(pattern.pattern), pattern.callback.cls)
    for pattern in urls.urlpatterns
    if issubclass(pattern.callback.cls, doors.Door)
]
DEEDS = {
    "collections/": "record",
    "collections/<str:code>/holds/": "hold",
    "purchases/": "record",
    "openings/": "record",
    "sources/": "record",
    "sources/<int:source>/erasure/": "manage",
    "members/<int:member>/erasure/": "manage",
    "programmes/": "manage",
    "machines/": "manage",
    "machines/<int:machine>/parts/": "manage",
    "machines/<int:machine>/phases/": "record",
    "machines/<int:machine>/phases/now/": "record",
    "machines/<int:machine>/readings/": "record",
    "machines/<int:machine>/meter/": "record",
    "machines/<int:machine>/barrel/": "record",
    "machines/<int:machine>/changeovers/": "record",
    "machines/<int:machine>/changeovers/trial/": "read",
    "changeovers/<int:changeover>/used/": "record",
    "practice/": "manage",
    "practice/windows/": "manage",
    "declared-checks/": "manage",
    "lots/<str:code>/second-choice/": "record",
    "practice/materials/": "manage",
    "scales/": "manage",
    "containers/": "record",
    "polymers/": "manage",
    "keys/": "key",
    "keys/<int:key>/revoke/": "key",
    "lots/<str:code>/holds/": "hold",
    "lots/<str:code>/events/": "record",
    "lots/<str:code>/verdicts/": "verdict",
    "lots/<str:code>/particles/": "record",
    "lots/<str:code>/filament/": "record",
    "holds/<int:hold>/release/": "release",
    "energy/files/": "record",
    "energy/files/<int:file>/take/": "record",
    "energy/files/<int:file>/drop/": "record",
    "energy/readings/": "record",
    "energy/parts/<int:part>/times/": "record",
    "energy/parts/<int:part>/now/": "record",
    "energy/logged/<int:logged>/take-back/": "record",
    "energy/tariffs/": "manage",
    "energy/factors/": "manage",
    "runs/": "record",
    "runs/<str:code>/draws/": "record",
    "runs/<str:code>/outputs/": "record",
    "runs/<str:code>/losses/": "record",
    "runs/<str:code>/settings/": "record",
    "runs/<str:code>/checks/": "record",
    "runs/<str:code>/close/": "record",
    "runs/<str:code>/void/": "void",
    "runs/<str:code>/void/trial/": "void",
    "runs/<str:code>/undo/": "record",
    "changes/<str:code>/undo/": "correct",
    "doubts/<int:number>/right/": "record",
    "runs/<str:code>/model/": "correct",
    "suspects/": "read",
    "findings/": "record",
    "samples/": "record",
    "reconciliations/": "record",
    "exports/epcis/": "report",
    "reports/": "report",
    "reports/<str:code>/links/": "publish",
    "reports/<str:code>/links/<int:link>/revoke/": "publish",
    "postings/<int:posting>/corrections/": "correct",
    "postings/<int:posting>/corrections/trial/": "correct",
    "postings/<int:posting>/corrections/undo/": "record",
    "archives/": "manage",
    "imports/": "record",
    "imports/<int:number>/answers/": "record",
    "imports/<int:number>/take/": "record",
    "imports/<int:number>/undo/": "record",
    "imports/<int:number>/drop/": "record",
}
"""What each address does when written to; written down here a second time, on purpose."""
READ_BY_FEW = dict.fromkeys(
    ("archives/", "archives/<int:number>/", "archives/<int:number>.zip"), "manage"
)
"""What each address needs that not everybody may read."""


CHANGES = {
    "workshop/": "manage",
    "sources/<int:source>/": "record",
    "programmes/<int:programme>/": "manage",
    "machines/<int:machine>/details/": "manage",
    "scales/<int:scale>/": "manage",
    "containers/<int:container>/": "record",
    "members/<int:member>/": "manage",
    "collections/<str:code>/": "correct",
    "lots/<str:code>/": "correct",
    "runs/<str:code>/": "correct",
}
"""What each address does when something there is changed."""


def address_of(path: str) -> str:
    """Fill an address in with things that there are none of."""
    return "/" + re.sub(r"<int:\w+>", "999999", path.replace("<str:code>", "L1-X"))


def test_every_address_that_writes_is_listed_here():
    for method, listed in (("post", DEEDS), ("patch", CHANGES)):
        assert {path for path, door in ADDRESSES if hasattr(door, method)} == set(listed)


@pytest.mark.parametrize("path, door", ADDRESSES)
def test_a_door_names_the_action_of_each_method(path, door):
    methods = {name.upper() for name in ("get", "post", "patch") if hasattr(door, name)}
    assert set(door.needs) == methods
    assert door.needs.get("GET", "read") == READ_BY_FEW.get(path, "read")
    assert door.needs.get("POST") == DEEDS.get(path)


def test_a_method_without_an_action_is_closed(shop, monkeypatch):
    from api.lots import LotsApi

    monkeypatch.setattr(LotsApi, "needs", {})
    assert shop.api.send("GET", "/lots/").status_code == 403


@pytest.fixture
def callers(shop):
    """A program for each role and scope that a key of this role can have."""
    callers = {}
    for role in ROLES:
        if role != "lead":
            MemberFactory(actor=shop.lead, name=f"one {role}", role=role)
        for scope in SCOPES:
            name = "" if role == "lead" else f"one {role}"
            callers[role, scope] = program(shop.lead, name, scope)
    return callers


METHODS = [
    (path, method, action) for path, door in ADDRESSES for method, action in door.needs.items()
]


def is_open(role: str, scope: str, action: str) -> bool:
    return role in MAY[action] and SCOPES.index(scope) >= SCOPES.index(NEEDS[action])


def is_below(one: tuple[str, str], other: tuple[str, str]) -> bool:
    """Say whether a caller has no more of a role and of a scope than another."""
    roles, scopes = zip(one, other, strict=True)
    lower = ROLES.index(roles[0]) >= ROLES.index(roles[1])
    return one != other and lower and SCOPES.index(scopes[0]) <= SCOPES.index(scopes[1])


def at_the_border(callers: Iterable[tuple[str, str]], action: str) -> Iterator[tuple[str, str]]:
    """Give those who may least of all that may do this, and who may most of all that may not."""
    opens = {one: is_open(*one, action) for one in callers}
    for one, may_do in opens.items():
        alike = [other for other, same in opens.items() if same == may_do]
        if not any(is_below(other, one) if may_do else is_below(one, other) for other in alike):
            yield one


@pytest.mark.slow
def test_every_address_opens_and_closes_at_its_border(callers):
    """All the other callers are asked with `-m ""`."""
    asked = 0
    for path, method, action in METHODS:
        for role, scope in at_the_border(callers, action):
            status = callers[role, scope].send(method, address_of(path), {}).status_code
            wanted = is_open(role, scope, action)
            assert (status == 403) != wanted, (role, scope, method, path, status)
            asked += 1
    assert asked > 2 * len(DEEDS)


@pytest.mark.slow
def test_roles_and_scopes_open_and_close_every_address(callers):
    for (role, scope), caller in callers.items():
        for path, method, action in METHODS:
            status = caller.send(method, address_of(path), {}).status_code
            wanted = is_open(role, scope, action)
            assert (status == 403) != wanted, (role, scope, method, path, status)
    assert len(callers) == len(ROLES) * len(SCOPES)


def test_nobody_gets_past_a_door_without_a_key(db):
    from tests.api.conftest import Program

    for path, door in ADDRESSES:
        address = address_of(path)
        for method in door.needs:
            assert Program().send(method, address, {}).status_code == 401


def test_doors_are_small():
    for _, door in ADDRESSES:
        for name in ("get", "post"):
            if hasattr(door, name):
                body = inspect.getsource(inspect.unwrap(getattr(door, name)))
                assert body.count("\n") <= 20, door
