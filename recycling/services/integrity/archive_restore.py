"""Put a workshop back from its archive: into an empty service, all of it or nothing."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.color import no_style
from django.db import DatabaseError, connection, transaction
from django.db.models import Field

from recycling.ledger.models import Book
from recycling.ledger.sql import insert, measure_tables
from recycling.models import Member, User, Workshop
from recycling.models.archived import ARCHIVED, ArchivedKind
from recycling.queries.integrity.archive_facts import member_name, service_version, stored
from recycling.queries.integrity.audit import audit
from recycling.records.integrity import Restored
from recycling.tables.integrity import PEOPLE, Archive
from shared.errors import Refused
from shared.said import say

ROWS_AT_ONCE = 1_000
SLUG = re.compile("[a-z0-9_-]{1,40}")
SAME_IN_BOTH: dict[str, type] = {
    **dict.fromkeys(["BigAutoField", "BigIntegerField", "IntegerField"], int),
    **dict.fromkeys(["PositiveIntegerField", "PositiveSmallIntegerField"], int),
    **dict.fromkeys(["CharField", "TextField"], str),
    "BooleanField": bool,
    "FloatField": float,
}
"""Kinds of field whose values JSON and both databases hold alike."""

Progress = Callable[[Iterable[str]], Iterable[str]]


@dataclass(frozen=True)
class Person:
    """Somebody of the workshop; `fresh` when the account was made just now."""

    name: str
    user: User | None = None
    fresh: bool = False


def workshop_restore(archive: Archive, slug: str = "", progress: Progress = iter) -> Restored:
    """Put every fact back under the key it had, with the ledger's guards on, and audit it.

    Keys are kept because answers, changes and frozen files name them; so the service must not
    have a workshop yet.

    Raises
    ------
    Refused
        When there is a workshop already, the archive was made by another version, its facts
        do not fit together, or the audit finds something; then nothing was put back.
    """
    if slug and not SLUG.fullmatch(slug):
        raise Refused.because(
            "slug-wrong", "Up to 40 small letters, digits, dashes and underscores.", "/slug"
        )
    _refuse_version(archive)
    try:
        with transaction.atomic():
            restored = _restored(archive, slug, progress)
    except (
        DatabaseError,
        ValidationError,
        ValueError,
        TypeError,
        KeyError,
        OverflowError,
    ) as wrong:
        raise Refused.because(
            "archive-unsound",
            say("The facts of this archive do not fit together: {why}", why=str(wrong)[:300]),
        ) from wrong
    return restored


def _refuse_version(archive: Archive) -> None:
    said, here = archive.manifest.about.get("service"), service_version()
    if said != here:
        raise Refused.because(
            "archive-version",
            say(
                "The archive was made by a service at {there}, this one is at {here}."
                " Put it back with the version that made it, then update.",
                there=said,
                here=here,
            ),
        )
    wanted = {member_name(place, kind) for place, kind in enumerate(ARCHIVED)}
    if set(archive.names()) - {PEOPLE} != wanted:
        raise Refused.because("archive-changed", "The archive does not hold every kind of fact.")


def _restored(archive: Archive, slug: str, progress: Progress) -> Restored:
    if Book.objects.exists():
        raise Refused.because(
            "instance-not-empty",
            "There is a workshop in this service already; put it back into an empty one.",
        )
    people, count = _people(archive), 0
    kinds = {member_name(place, kind): kind for place, kind in enumerate(ARCHIVED)}
    for name in progress(list(kinds)):
        count += _put_back(kinds[name], archive.rows(name), people)
    measure_tables()
    workshop = _checked(archive, slug)
    _go_on_numbering()
    findings = audit(workshop.pk)
    if findings:
        first = findings[0]
        raise Refused.because(
            "archive-unsound",
            say(
                "The audit finds {count}: {subject}: {detail}",
                count=len(findings),
                subject=first.subject,
                detail=first.detail,
            ),
        )
    unknown = [one.user.username for one in people.values() if one.user and one.fresh]
    return Restored(
        workshop.slug,
        workshop.name,
        workshop.book.last_sequence,
        count,
        tuple(sorted(set(unknown))),
    )


def _people(archive: Archive) -> dict[str, Person]:
    """Make an account without a password for everybody who had one; map them by reference."""
    if PEOPLE not in archive.names():
        return {}
    return {str(one["reference"]): _person(one) for one in archive.rows(PEOPLE)}


def _person(said: dict[str, Any]) -> Person:
    username, name = said["username"], str(said["name"])
    if not username:
        return Person(name)
    known = User.objects.filter(username=username).first()
    if known is not None:
        return Person(name, known)
    user = User(username=username)
    user.set_unusable_password()
    user.full_clean()
    user.save()
    return Person(name, user, fresh=True)


def _put_back(kind: ArchivedKind, rows: Iterator[Any], people: dict[str, Person]) -> int:
    """Store the rows of one kind as they were; postings come before the entry that seals them."""
    names, count = {field.attname for field in kind.fields}, 0
    fields = kind.model._meta.concrete_fields
    columns = [connection.ops.quote_name(str(field.column)) for field in fields]
    readers = [(field.attname, _reader(field)) for field in fields]
    while lines := list(islice(rows, ROWS_AT_ONCE)):
        for line in lines:
            if set(line) != names:
                raise ValueError(f"a row of {kind.name} has other fields")
            if kind.model is Member:
                _name_person(line, people)
        made = [[read(line[name]) for name, read in readers] for line in lines]
        insert(kind.model._meta.db_table, columns, made)
        count += len(made)
    return count


def _reader(field: Field) -> Callable[[Any], Any]:
    """Read a field's values as the database takes them; most are that already."""
    kind = getattr(field, "target_field", field).get_internal_type()
    same = SAME_IN_BOTH.get(kind)

    def read(value: Any) -> Any:
        if value is None or type(value) is same:
            return value
        return field.get_db_prep_save(stored(field, value), connection)

    return read


def _name_person(line: dict[str, Any], people: dict[str, Person]) -> None:
    person = people.get(str(line["reference"]))
    line["name"] = person.name if person else f"member {line['id']}"
    line["user_id"] = person.user.pk if person and person.user else None


def _checked(archive: Archive, slug: str) -> Workshop:
    """See that it is the one workshop that the manifest names, and that all references hold."""
    connection.check_constraints()
    workshop = Workshop.objects.select_related("book").get()
    said = archive.manifest.about
    if (str(workshop.identity), workshop.book.last_sequence) != (
        said["workshop"]["identity"],
        said["sequence"],
    ):
        raise ValueError("the workshop is not the one of the manifest")
    for kind in ARCHIVED:
        rows = kind.model._base_manager
        if rows.filter(**{kind.way: workshop.pk}).count() != rows.count():
            raise ValueError(f"some of {kind.name} belongs to no workshop")
    if slug:
        workshop.slug = slug
        workshop.save(update_fields=["slug"])
    return workshop


def _go_on_numbering() -> None:
    """Let the database go on giving keys after the highest that was put back."""
    resets = connection.ops.sequence_reset_sql(no_style(), [kind.model for kind in ARCHIVED])
    with connection.cursor() as cursor:
        for statement in resets:
            cursor.execute(statement)
