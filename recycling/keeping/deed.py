"""A deed: one thing a person does, in one transaction, allowed, retried, refused in words."""

from __future__ import annotations

import functools
import inspect
import random
import threading
import time
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import datetime, timedelta
from typing import Any, Concatenate, ParamSpec, TypeVar

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Min
from django.utils import timezone

from recycling import jobs
from recycling.ledger.models import Entry
from recycling.ledger.post import Overdrawn, lock_book
from recycling.models import Lot
from recycling.queries.integrity.book_state import (
    BOOK_ERRORS,
    RETRIED,
    read_only,
    sql_state,
    unavailable,
)
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import DrawEntry
from shared import committed
from shared.codes import read_code
from shared.errors import Forbidden, Problem, Refused
from shared.said import say
from shared.texts import UNSEEN, refuse_signs
from shared.units import show_mass, typed_mass

TRIES = 5
_ONE_WRITER = threading.RLock()
"""SQLite has one writer at a time; threads of a process queue here rather than poll its file."""

POINTED = {"draws": "inputs"}
"""Parameters whose pointers have another name than they."""

Given = ParamSpec("Given")
Result = TypeVar("Result")
Service = Callable[Concatenate[Actor, Given], Result]


def deed(
    action: str, raw: frozenset[str] = frozenset()
) -> Callable[[Service[Given, Result]], Service[Given, Result]]:
    """Make a service of a function: check the right and the texts, lock the book, all or nothing.

    Every text that is given, in entries too, is looked through for signs that are not kept; those
    of the parameters `raw` are whole files, whose cells are looked through once they are read.

    Raises
    ------
    Forbidden
        When the actor may not take the action.
    Refused
        When a lot would go below zero, a text holds a sign that is not kept, or the function
        refuses.
    Unavailable
        When the database is away or too busy after five tries.
    """

    def wrap(function: Service[Given, Result]) -> Service[Given, Result]:
        names = tuple(inspect.signature(function).parameters)[1:]

        @functools.wraps(function)
        def service(actor: Actor, *args: Given.args, **kwargs: Given.kwargs) -> Result:
            refuse_unless_may(actor, action)
            refuse_read_only()
            refuse_signs(_given(names, raw, args, kwargs))
            return retried(functools.partial(_once, function, actor, *args, **kwargs))

        return service

    return wrap


def _given(
    names: tuple[str, ...], raw: frozenset[str], args: tuple[Any, ...], kwargs: dict[str, Any]
) -> dict[str, Any]:
    """Give what a deed was given by the pointers of an entry: what an entry holds has no name."""
    named = {**dict(zip(names, args, strict=False)), **kwargs}
    whole = {name: one for name, one in named.items() if name not in raw}
    entries = [name for name, one in whole.items() if is_dataclass(one)]
    held = {
        field.name: getattr(whole[name], field.name)
        for name in entries
        for field in fields(whole[name])
        if field.name not in UNSEEN
    }
    return {
        POINTED.get(name, name): one for name, one in whole.items() if name not in entries
    } | held


def undo_until() -> datetime:
    """Say until when what is recorded now can be undone without a reason."""
    return timezone.now() + timedelta(minutes=settings.UNDO_MINUTES)


def refuse_unless_may(actor: Actor, action: str) -> None:
    """Refuse with Forbidden what the actor may not do."""
    if not actor.may(action):
        raise Forbidden.because(
            "not-allowed",
            say(
                "A {role} with a “{scope}” key may not do this; ask a lead of the workshop.",
                role=actor.role,
                scope=actor.scope,
            ),
        )


def refuse_read_only() -> None:
    """Refuse what would write on a server that only shows the book."""
    if settings.READ_ONLY:
        raise read_only()


def _once(function: Callable[..., Any], actor: Actor, *args: Any, **kwargs: Any) -> Any:
    try:
        with transaction.atomic():
            lock_book(actor.workshop_id)
            done = function(actor, *args, **kwargs)
            transaction.on_commit(committed.note)
            return done
    except Overdrawn as overdrawn:  # once all is undone, so that the masses named are those of now
        raise overdrawn_refusal(overdrawn, (*args, *kwargs.values())) from overdrawn


def retried(attempt: Callable[[], Any]) -> Any:
    """Run a transaction again when the database asks for it; never inside another one."""
    if connection.in_atomic_block:
        return attempt()
    if connection.vendor == "sqlite":
        with jobs.held_back(), _ONE_WRITER:
            return _tried(attempt)
    return _tried(attempt)


def _tried(attempt: Callable[[], Any]) -> Any:
    tries = TRIES
    for count in range(1, tries + 1):
        try:
            return attempt()
        except BOOK_ERRORS as error:
            if sql_state(error) in RETRIED and count < tries:
                time.sleep(random.uniform(0, 0.02 * 2**count))
                continue
            raise unavailable(error) from error
    raise AssertionError("unreachable: the last try returns or raises")


def overdrawn_refusal(overdrawn: Overdrawn, given: tuple[Any, ...] = ()) -> Refused:
    """Say which lot would go below zero, when, what to do, and which entry of a deed drew it."""
    lot = Lot.objects.select_related("account").get(pk=overdrawn.account_id)
    made_at = Entry.objects.filter(postings__account=lot.account).aggregate(at=Min("happened_at"))[
        "at"
    ]
    if made_at is not None and overdrawn.when < made_at:
        return Refused.because(
            "lot-overdrawn",
            say(
                "Lot {lot} was made at {made}; nothing of it was there at {when}. Check the time.",
                lot=lot.code,
                made=_said(made_at),
                when=_said(overdrawn.when),
            ),
            f"{place}/lot" if (place := _draw_of(lot.code, overdrawn, given)[0]) else "",
        )
    if overdrawn.drawn_by:
        return Refused.because(
            "lot-overdrawn",
            say(
                "Lot {lot} would be {short_mg} below zero at {when}: {runs} drew from it."
                " Correct what was drawn there first, then this figure.",
                lot=lot.code,
                short_mg=show_mass(overdrawn.short_mg),
                when=_said(overdrawn.when),
                runs=", ".join(overdrawn.drawn_by),
            ),
        )
    return Refused(_too_much(lot, overdrawn, given))


def _too_much(lot: Lot, overdrawn: Overdrawn, given: tuple[Any, ...]) -> Problem:
    """Ask whether it was all there is, where a draw took more than that; else say what to do."""
    pointer, drawn = _draw_of(lot.code, overdrawn, given)
    balance_mg = lot.account.balance_mg
    taken_mg = 0 if drawn is None else drawn.mass_mg or balance_mg
    there_mg = taken_mg - overdrawn.short_mg
    short, when = show_mass(overdrawn.short_mg), _said(overdrawn.when)
    if drawn is None or there_mg <= 0:
        text = say(
            "Lot {lot} would be {short_mg} below zero at {when}; now it has"
            " {balance_mg}. Check the mass and the time, or count the lot.",
            lot=lot.code,
            short_mg=short,
            when=when,
            balance_mg=show_mass(balance_mg),
        )
        return Problem("lot-overdrawn", text, pointer and f"{pointer}/mass_mg")
    text = say(
        "Of lot {lot} at most {there} can be taken at {when}, {short} less than was entered. Was it"
        " all of it? If more is there than the book says, count the lot first; or check the time.",
        lot=lot.code,
        there=show_mass(there_mg),
        when=when,
        short=short,
    )
    return Problem("lot-overdrawn", text, f"{pointer}/mass_mg", (typed_mass(there_mg),))


def _draw_of(
    code: str, overdrawn: Overdrawn, given: tuple[Any, ...]
) -> tuple[str, DrawEntry | None]:
    """Find the draw that took too much in what was given to a deed, and its pointer."""
    for one in given:
        draws = getattr(one, "inputs", one if isinstance(one, list | tuple) else ())
        for number, draw in enumerate(draws):
            here = f"/inputs/{number}"
            if not isinstance(draw, DrawEntry) or overdrawn.pointer not in ("", here):
                continue
            if read_code(draw.lot) == code:
                return here, draw
    return overdrawn.pointer, None


def _said(moment: datetime) -> str:
    return timezone.localtime(moment).strftime("%Y-%m-%d %H:%M %Z")
