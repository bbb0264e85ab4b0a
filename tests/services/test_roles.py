"""The table role × action × scope is the input: every service obeys it, nothing else decides."""

from __future__ import annotations

import inspect
from itertools import product

import pytest

from recycling.services import exchange as energies_tell
from recycling.services import labels as public_links
from recycling.services.lots import holds, lot_notes, lots_count, origin_record
from recycling.services.people import erasures, members, tablets, workshops
from recycling.services.quality.verdict_give import verdict_give
from recycling.services.reports import ask as report_ask
from recycling.services.reports import links as report_links
from recycling.services.runs import corrections, run_close, run_open, run_record, void
from recycling.services.setup import change as setting_up_change
from recycling.services.setup import register as setting_up
from shared.errors import Refused
from shared.roles import MAY, NEEDS, ROLES, SCOPES, may
from tests.factories import with_scope

pytestmark = pytest.mark.django_db

ACTIONS = {
    origin_record.origin_record: "record",
    run_record.run_record: "record",
    run_open.run_open: "record",
    run_open.run_draw: "record",
    run_open.run_output_add: "record",
    run_open.run_loss_add: "record",
    run_open.run_log: "record",
    run_close.run_close: "record",
    lots_count.lots_count: "record",
    lot_notes.lot_event: "record",
    verdict_give: "verdict",
    corrections.posting_correct: "correct",
    void.run_void: "void",
    holds.hold_place: "hold",
    holds.hold_release: "release",
    setting_up.source_add: "record",
    setting_up.container_add: "record",
    setting_up.programme_add: "manage",
    setting_up.machine_add: "manage",
    setting_up.scale_add: "manage",
    setting_up.polymer_add: "manage",
    public_links.link_give: "record",
    public_links.links_give: "record",
    public_links.link_revoke: "record",
    energies_tell.energies_tell: "report",
    report_ask.report_ask: "report",
    report_links.report_link_give: "publish",
    report_links.report_link_revoke: "publish",
    tablets.tablet_add: "manage",
    tablets.tablet_revoke: "manage",
    tablets.lock_time_set: "manage",
    tablets.pin_set: "key",
    tablets.pin_remove: "key",
    setting_up_change.source_change: "record",
    setting_up_change.container_change: "record",
    setting_up_change.programme_change: "manage",
    setting_up_change.machine_change: "manage",
    setting_up_change.scale_change: "manage",
    workshops.workshop_change: "manage",
    members.member_change: "manage",
    erasures.member_erase: "manage",
    erasures.source_erase: "manage",
    members.password_link: "manage",
    members.second_step_remove: "manage",
    workshops.member_add: "manage",
    workshops.key_issue: "key",
    workshops.key_revoke: "key",
}
OPEN_TO_NOBODY_IN_PARTICULAR = {workshops.workshop_open, erasures.erasures_replay}

TABLE = """
            lead      operator  viewer    least scope
read        yes       yes       yes       read
record      yes       yes       -         record
correct     yes       yes       -         record
hold        yes       yes       -         record
release     yes       -         -         manage
void        yes       -         -         manage
verdict     yes       yes       yes       record
key         yes       yes       yes       manage
moderate    yes       yes       -         record
report      yes       yes       -         record
publish     yes       -         -         manage
manage      yes       -         -         manage
"""


def allowed(action: str, role: str, scope: str) -> bool:
    """Read the table above."""
    head, *rows = TABLE.strip().splitlines()
    row = next(line.split() for line in rows if line.split()[0] == action)
    order = ["read", "record", "manage"]
    yes = row[1 + head.split().index(role)] == "yes"
    return yes and order.index(scope) >= order.index(row[4])


def test_the_table_is_the_one_written_down():
    assert set(MAY) == set(NEEDS) == {line.split()[0] for line in TABLE.strip().splitlines()[1:]}
    for action, role, scope in product(MAY, ROLES, SCOPES):
        assert may(action, role, scope) == allowed(action, role, scope), (action, role, scope)


@pytest.mark.parametrize(
    ("action", "role", "scope"),
    [("fly", "lead", "manage"), ("read", "king", "manage"), ("read", "lead", "all"), ("", "", "")],
)
def test_what_is_not_named_nobody_may_do(action, role, scope):
    assert not may(action, role, scope)


def test_every_service_of_these_modules_is_in_the_table():
    modules = {inspect.getmodule(inspect.unwrap(service)) for service in ACTIONS}
    public = {
        function
        for module in modules
        for name, function in vars(module).items()
        if inspect.isfunction(function)
        and not name.startswith("_")
        and inspect.getmodule(inspect.unwrap(function)) is module
    }
    assert public - OPEN_TO_NOBODY_IN_PARTICULAR == set(ACTIONS)


@pytest.mark.parametrize("service", ACTIONS, ids=lambda service: service.__name__)
def test_a_service_lets_in_just_whom_the_table_names(lead, service):
    """What nobody could use is given, so that one who is let in fails over it, and not before."""
    arguments = [None] * (len(inspect.signature(inspect.unwrap(service)).parameters) - 1)
    for role, scope in product(ROLES, SCOPES):
        actor = with_scope(lead, scope, role)
        with pytest.raises(Exception) as caught:
            service(actor, *arguments)
        codes = (
            [problem.code for problem in caught.value.problems]
            if isinstance(caught.value, Refused)
            else []
        )
        shut_out = codes == ["not-allowed"] and caught.value.status == 403
        assert shut_out != allowed(ACTIONS[service], role, scope), (role, scope, caught.value)
