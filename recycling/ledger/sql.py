"""Plain SQL for what must cost no more than its statement: fetch rows, write rows, read times."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.db import connection

MOST_VALUES = 20_000


def rows(statement: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
    """Fetch all rows of a statement."""
    with connection.cursor() as cursor:
        cursor.execute(statement, [_stored(value) for value in values])
        return cursor.fetchall()


def marks(values: Sequence[Any]) -> str:
    """Write as many place holders as there are values; one that matches nothing for none."""
    return ", ".join(["%s"] * len(values)) or "NULL"


def among(column: str, keys: Iterable[int]) -> tuple[str, Any]:
    """Write a condition that a column is one of many keys, and the one value that it takes."""
    if connection.vendor == "postgresql":
        return f"{column} = ANY(%s)", list(keys)
    return f"{column} IN (SELECT value FROM json_each(%s))", json.dumps(list(keys))


def insert(
    table: str, columns: Sequence[str], lines: Sequence[Sequence[Any]], again: str = ""
) -> list[int]:
    """Insert lines and return the values of their first column, in order.

    `again` says what is done with a line that is there already.
    """
    made: list[int] = []
    step = max(1, MOST_VALUES // len(columns))
    for start in range(0, len(lines), step):
        made += _insert(table, columns, lines[start : start + step], again)
    return made


def _insert(
    table: str, columns: Sequence[str], lines: Sequence[Sequence[Any]], again: str
) -> list[int]:
    given = columns[1:] if len(lines[0]) < len(columns) else columns
    line = f"({marks(given)})"
    found = rows(
        f"INSERT INTO {table} ({', '.join(given)}) VALUES {', '.join([line] * len(lines))}"
        f" {again} RETURNING {columns[0]}",
        [value for values in lines for value in values],
    )
    return [row[0] for row in found]


def _stored(value: Any) -> Any:
    if isinstance(value, datetime):
        return connection.ops.adapt_datetimefield_value(value)
    if isinstance(value, UUID) and not connection.features.has_native_uuid_field:
        return value.hex
    return value


def moment(value: datetime | str) -> datetime:
    """Return a stored time as an aware datetime; SQLite keeps UTC and says nothing of it."""
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    return value if value.tzinfo else value.replace(tzinfo=UTC)


def measure_tables() -> None:
    """Let PostgreSQL count anew after many rows came at once; its plans are poor until it has.

    Only the tables of this book: a bare ANALYZE also takes those that all databases of a server
    share, and then waits for whoever else does so until their transaction ends.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            names = connection.introspection.table_names(cursor)
            cursor.execute("ANALYZE " + ", ".join(map(connection.ops.quote_name, names)))
