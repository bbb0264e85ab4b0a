"""post() balances, numbers without gaps, and refuses a lot below zero at any time."""

from __future__ import annotations

import uuid

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recycling.ledger.history import lowest_after
from recycling.ledger.models import ENTRIES_PER_BOOK, Account, Entry, Posting
from recycling.ledger.post import (
    Change,
    Overdrawn,
    Unbalanced,
    border_account,
    post,
    post_together,
    take_numbers,
)
from tests.ledger.conftest import Desk, new_desk

pytestmark = pytest.mark.django_db


def test_an_entry_keeps_what_it_was_told(desk: Desk):
    who = uuid.uuid4()
    sheet = desk.sheet(3, "receive", actor=who, reason="weighed", key="k-1")
    entry_id, postings = post(
        sheet, [Change(desk.border, -70), Change(desk.lot, 40), Change(desk.other, 30)]
    )
    entry = Entry.objects.get(pk=entry_id)
    assert (entry.kind, entry.actor, entry.reason, entry.key) == ("receive", who, "weighed", "k-1")
    assert (entry.process_id, entry.happened_at) == (desk.process, desk.at(3))
    kept = [Posting.objects.get(pk=pk) for pk in postings]
    assert [(p.account_id, p.mass_mg) for p in kept] == [
        (desk.border, -70),
        (desk.lot, 40),
        (desk.other, 30),
    ]
    assert (desk.balance("lot"), desk.balance("other"), desk.balance("border")) == (40, 30, -70)
    assert Account.objects.get(pk=desk.lot).last_at == desk.at(3)


def test_a_correction_points_at_what_it_corrects(desk: Desk):
    _, (_, first) = post(desk.sheet(), [Change(desk.border, -70), Change(desk.lot, 70)])
    _, (second, _) = post(
        desk.sheet(0, "correct"), [Change(desk.lot, -5, corrects_id=first), Change(desk.border, 5)]
    )
    assert Posting.objects.get(pk=second).corrects_id == first


@pytest.mark.parametrize("masses", [(), (0, 0), (5,), (5, -4), (10**12, -(10**12) + 1)], ids=str)
def test_what_does_not_balance_is_refused(desk: Desk, masses):
    accounts = [desk.border, desk.process]
    with pytest.raises(Unbalanced):
        post(desk.sheet(), [Change(a, m) for a, m in zip(accounts, masses, strict=False)])
    assert not Entry.objects.exists() and not Posting.objects.exists()


def test_zeros_are_left_out(desk: Desk):
    _, postings = post(
        desk.sheet(), [Change(desk.lot, 0), Change(desk.process, 3), Change(desk.border, -3)]
    )
    assert len(postings) == 2


def test_another_books_account_is_refused(desk: Desk):
    strange = new_desk()
    with pytest.raises(Unbalanced, match="another book"):
        post(desk.sheet(), [Change(strange.lot, 5), Change(desk.border, -5)])
    assert strange.balance("lot") == 0


def test_a_lot_cannot_be_overdrawn(desk: Desk):
    desk.move(0, lot=100)
    with pytest.raises(Overdrawn) as refused:
        desk.move(1, lot=-101)
    assert (refused.value.account_id, refused.value.short_mg) == (desk.lot, 1)
    assert refused.value.when == desk.at(1)
    desk.move(1, lot=-100)
    assert desk.balance("lot") == 0


def test_two_changes_of_one_lot_count_together(desk: Desk):
    desk.move(0, lot=100)
    with pytest.raises(Overdrawn):
        post(
            desk.sheet(1),
            [Change(desk.lot, -60), Change(desk.lot, -41), Change(desk.process, 101)],
        )
    post(desk.sheet(1), [Change(desk.lot, -150), Change(desk.lot, 50), Change(desk.process, 100)])


def test_back_dated_draws_see_what_was_drawn_later(desk: Desk):
    desk.move(0, lot=100)
    desk.move(10, lot=-80)
    desk.move(20, lot=50)
    with pytest.raises(Overdrawn) as refused:
        desk.move(5, lot=-30)  # 70 are on hand now, but at hour 10 there would be -10
    assert (refused.value.short_mg, refused.value.when) == (10, desk.at(10))
    desk.move(5, lot=-20)
    assert desk.balance("lot") == 50


def test_nothing_can_be_drawn_before_it_was_there(desk: Desk):
    desk.move(10, lot=100)
    with pytest.raises(Overdrawn) as refused:
        desk.move(9, lot=-1)
    assert refused.value.when == desk.at(9)
    desk.move(10, lot=-100)  # made and used up in one moment


def test_entries_of_one_deed_are_judged_together(desk: Desk):
    """A sheet comes late between two: what the second holds is moved to what the new one left."""
    desk.move(0, lot=100)
    desk.move(5, lot=-100)
    late = [Change(desk.lot, -100), Change(desk.other, 100)]
    moved = [Change(desk.lot, 100), Change(desk.other, -100)]
    for alone in (desk.sheet(3), late), (desk.sheet(5), moved):
        with pytest.raises(Overdrawn), transaction.atomic():
            post(*alone)
    told = post_together([(desk.sheet(3), late), (desk.sheet(5), moved)])
    assert (desk.balance("lot"), desk.balance("other")) == (0, 0)
    assert lowest_after(desk.other, [])[1] is None
    entries = list(Entry.objects.order_by("sequence"))
    assert [entry.sequence for entry in entries] == [1, 2, 3, 4]
    assert [entry.pk for entry in entries[2:]] == [entry_id for entry_id, _ in told]
    for entry, (_, postings) in zip(entries[2:], told, strict=True):
        assert [one.pk for one in entry.postings.order_by("pk")] == postings


def test_one_entry_out_of_balance_refuses_all_of_a_deed(desk: Desk):
    right = [Change(desk.lot, 5), Change(desk.border, -5)]
    with pytest.raises(Unbalanced), transaction.atomic():
        post_together([(desk.sheet(0), right), (desk.sheet(1), right[:1])])
    assert not Entry.objects.exists()


def test_processes_and_borders_may_be_below_zero(desk: Desk):
    post(desk.sheet(), [Change(desk.process, -7), Change(desk.border, 7)])
    assert desk.balance("process") == -7


def test_sequences_have_no_gaps_even_after_refusals(desk: Desk):
    strange = new_desk()
    for hours in range(3):
        desk.move(hours, lot=10)
        strange.move(hours, lot=10)
        with pytest.raises(Unbalanced):
            post(desk.sheet(hours), [Change(desk.lot, 1)])
    for book in (desk, strange):
        entries = Entry.objects.filter(book_id=book.book_id).order_by("sequence")
        assert [entry.sequence for entry in entries] == [1, 2, 3]
        assert [entry.pk for entry in entries] == [
            book.book_id * ENTRIES_PER_BOOK + n for n in (1, 2, 3)
        ]


def test_numbers_are_given_out_once(desk: Desk):
    given_out = take_numbers(desk.book_id, 3) + take_numbers(desk.book_id, 1)
    assert given_out == [1, 2, 3, 4]
    assert take_numbers(new_desk().book_id, 2) == [1, 2]


def test_a_border_is_opened_once_for_each_commodity(desk: Desk):
    assert border_account(desk.book_id, "received", "PET") == desk.border
    assert border_account(desk.book_id, "received", "HDPE") != desk.border
    assert border_account(new_desk().book_id, "received", "PET") != desk.border


moves = st.lists(
    st.tuples(st.integers(0, 6), st.integers(-60, 60).filter(bool)), min_size=1, max_size=25
)


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(moves=moves)
def test_post_allows_just_what_a_plain_history_allows(db, moves):
    """Against a plain list of (hour, mass): allowed if and only if no hour's end is below zero."""
    desk, kept = new_desk(), []

    def lowest(history: list[tuple[int, int]]) -> int:
        hours = sorted({hour for hour, _ in history})
        return min((sum(m for h, m in history if h <= hour) for hour in hours), default=0)

    for hour, mass in moves:
        if lowest([*kept, (hour, mass)]) < 0:
            with pytest.raises(Overdrawn) as refused:
                desk.move(hour, lot=mass)
            assert refused.value.short_mg == -lowest([*kept, (hour, mass)])
        else:
            desk.move(hour, lot=mass)
            kept.append((hour, mass))
    assert desk.balance("lot") == sum(mass for _, mass in kept)
    assert lowest_after(desk.lot, []) == (0, None)
    sums = (
        Posting.objects.filter(entry__book_id=desk.book_id)
        .values("entry")
        .annotate(s=Sum("mass_mg"))
    )
    assert not [row for row in sums if row["s"]]
