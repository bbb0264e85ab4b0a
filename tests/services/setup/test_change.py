"""What entries refer to is changed, retired and brought back; members and passwords too."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.models import ChangeEvent, Member, PasswordLink, User
from recycling.queries.people.members import keys, members
from recycling.queries.setup import register as query
from recycling.records.lots.mass_entries import WeighingEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.people import MemberChange, WorkshopChange
from recycling.records.setup.changes import (
    ContainerChange,
    MachineChange,
    ProgrammeChange,
    ScaleChange,
    SourceChange,
)
from recycling.services.lots.origin_record import origin_record
from recycling.services.people.members import member_change, password_link
from recycling.services.people.passwords import password_set
from recycling.services.people.workshops import workshop_change
from recycling.services.setup.change import (
    container_change,
    machine_change,
    programme_change,
    scale_change,
    source_change,
)
from shared.errors import Forbidden, Refused, Unknown
from tests.factories import (
    KG,
    START,
    ContainerFactory,
    G,
    MachineFactory,
    MemberFactory,
    OriginFactory,
    ProgrammeFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
)
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
GOOD = "a long new password"


@pytest.fixture
def actor():
    return WorkshopFactory()


def test_what_is_left_out_stays_and_the_change_is_readable(actor):
    source = SourceFactory(actor=actor, name="Hill School", note="gate 2")
    changed = source_change(actor, source, SourceChange(name="Hillside School"))
    assert (changed.name, changed.kind, changed.note) == ("Hillside School", "school", "gate 2")
    event = ChangeEvent.objects.get(subject=f"source {source}", deed="change")
    assert event.before == {"name": "№ 1"} and event.after == {"name": "№ 2"}
    assert [one.name for one in changed.earlier_names] == ["Hill School"]


def test_a_change_that_changes_nothing_leaves_no_trace(actor):
    source = SourceFactory(actor=actor, name="Hill School")
    source_change(actor, source, SourceChange(name="Hill School", retired=False))
    assert not ChangeEvent.objects.filter(deed="change").exists()


def test_what_is_retired_is_no_longer_offered_and_comes_back(actor):
    kinds = [
        (SourceFactory(actor=actor), source_change, SourceChange, query.sources),
        (ProgrammeFactory(actor=actor), programme_change, ProgrammeChange, query.programmes),
        (MachineFactory(actor=actor), machine_change, MachineChange, query.machines),
        (ScaleFactory(actor=actor), scale_change, ScaleChange, query.scales),
        (ContainerFactory(actor=actor), container_change, ContainerChange, query.containers),
    ]
    for thing, change, entry, listed in kinds:
        assert change(actor, thing, entry(retired=True)).retired
        assert listed(actor) == [] and len(listed(actor, everything=True)) == 1
        assert not change(actor, thing, entry(retired=False)).retired
        assert len(listed(actor)) == 1


def test_names_stay_unlike_and_values_sound(actor):
    SourceFactory(actor=actor, name="Shop")
    source = SourceFactory(actor=actor, name="Bakery")
    with refused("name-taken", pointer="/name"):
        source_change(actor, source, SourceChange(name="shop"))
    with refused("name-missing", pointer="/name"):
        source_change(actor, source, SourceChange(name=" "))
    programme = ProgrammeFactory(actor=actor, ends_date=START.date())
    later = START.date() + timedelta(days=1)
    with refused("end-before-start", pointer="/ends_date"):
        programme_change(actor, programme, ProgrammeChange(starts_date=later))
    change = ProgrammeChange(starts_date=later, empty=("ends_date",))
    assert programme_change(actor, programme, change).ends_date is None
    with refused("field-needed", pointer="/empty"):
        programme_change(actor, programme, ProgrammeChange(empty=("name",)))


def test_the_plate_of_a_scale_stands_once_something_was_weighed_on_it(actor):
    scale = ScaleFactory(actor=actor, name="Bench")
    assert scale_change(actor, scale, ScaleChange(interval_mg=2 * G)).interval_mg == 2 * G
    bags = (BagEntry(KG, weighing=WeighingEntry(scale="Bench")),)
    origin_record(actor, OriginEntry("purchase", START, bags))
    with refused("scale-in-use", pointer="/interval_mg"):
        scale_change(actor, scale, ScaleChange(interval_mg=5 * G))
    same = ScaleChange(interval_mg=2 * G, checked_date=START.date())
    assert scale_change(actor, scale, same).checked_date == START.date()


def test_a_machine_with_a_heel_in_it_is_not_retired(actor):
    machine = MachineFactory(actor=actor, name="Extruder", kind="extruder")
    bags = (BagEntry(60 * G, form="heel", machine="Extruder"),)
    OriginFactory(actor=actor, kind="opening", bags=bags)
    with refused("machine-in-use", pointer="/retired"):
        machine_change(actor, machine, MachineChange(retired=True))


def test_others_things_do_not_exist(actor):
    stranger = WorkshopFactory()
    with pytest.raises(Unknown):
        source_change(stranger, SourceFactory(actor=actor), SourceChange(name="X"))
    with pytest.raises(Unknown):
        member_change(stranger, actor.member_id, MemberChange(new_role="viewer"))
    with pytest.raises(Unknown):
        password_link(stranger, actor.member_id)


def test_the_workshop_is_called_otherwise(actor):
    assert workshop_change(actor, WorkshopChange("Mill", "Europe/Lisbon")).zone == "Europe/Lisbon"
    with refused("zone-unknown", pointer="/zone"):
        workshop_change(actor, WorkshopChange(zone="Moon/Sea"))


def test_a_workshop_keeps_a_lead(actor):
    with refused("last-lead", pointer="/new_role"):
        member_change(actor, actor.member_id, MemberChange(new_role="viewer"))
    with refused("last-lead", pointer="/new_role"):
        member_change(actor, actor.member_id, MemberChange(active=False))
    MemberFactory(actor=actor, role="lead")
    changed = member_change(actor, actor.member_id, MemberChange(new_role="operator"))
    assert changed.role == "operator"


def test_who_left_comes_in_no_more_and_the_keys_open_nothing(actor):
    from recycling.queries.people.members import actors_of
    from tests.factories import KeyFactory

    bo = MemberFactory(actor=actor, name="Bo")
    KeyFactory(actor=bo)
    user = Member.objects.get(pk=bo.member_id).user
    assert not member_change(actor, bo.member_id, MemberChange(active=False)).active
    assert actors_of(user.pk) == []
    assert all(one.revoked for one in keys(actor) if one.member == "Bo")
    assert [one.name for one in members(actor)] == [actor.name]
    assert member_change(actor, bo.member_id, MemberChange(active=True)).active


def test_a_link_sets_a_password_once(actor):
    bo = MemberFactory(actor=actor, name="Bo")
    token = password_link(actor, bo.member_id)
    assert not PasswordLink.objects.filter(digest__contains=token).exists()
    with refused("password-weak", pointer="/password"):
        password_set(token, "12345")
    password_set(token, GOOD)
    assert Member.objects.get(pk=bo.member_id).user.check_password(GOOD)
    with pytest.raises(Unknown):
        password_set(token, GOOD)


def test_a_link_expires_and_the_next_one_ends_it(actor):
    bo = MemberFactory(actor=actor, name="Bo")
    first = password_link(actor, bo.member_id)
    second = password_link(actor, bo.member_id)
    with pytest.raises(Unknown):
        password_set(first, GOOD)
    PasswordLink.objects.update(expires_at=timezone.now())
    with pytest.raises(Unknown):
        password_set(second, GOOD)


def test_a_link_reaches_no_further_than_its_maker(actor):
    """Whoever leads one workshop must not take over an account that another one trusts."""
    bo, stranger = MemberFactory(actor=actor, name="Bo"), WorkshopFactory()
    user = Member.objects.get(pk=bo.member_id).user
    Member.objects.create(workshop_id=stranger.workshop_id, user=user, name="Bo", role="lead")
    with refused("member-elsewhere"):
        password_link(actor, bo.member_id)
    me = User.objects.get(memberships__pk=actor.member_id)
    Member.objects.create(workshop_id=stranger.workshop_id, user=me, name="Me", role="lead")
    assert password_link(actor, bo.member_id)
    Member.objects.filter(user=me).update(user=None)
    with refused("member-elsewhere"):
        password_link(actor, bo.member_id)


def test_only_a_lead_makes_links_and_changes_members(actor):
    bo = MemberFactory(actor=actor, name="Bo")
    for deed in (
        lambda: password_link(bo, actor.member_id),
        lambda: member_change(bo, actor.member_id, MemberChange(new_role="viewer")),
    ):
        with pytest.raises((Forbidden, Refused)):
            deed()
