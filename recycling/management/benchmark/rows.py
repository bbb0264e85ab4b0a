"""Many rows into a table at once: COPY on PostgreSQL, one prepared INSERT on SQLite."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

from django.core.management.color import no_style
from django.db import connection
from django.db.models import AutoField, BigAutoField, Field, Model

BATCH = 50_000


def write_rows(model: type[Model], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> int:
    """Write rows of these fields, all other fields at their defaults; return how many."""
    fields = {field.attname: field for field in model._meta.concrete_fields}
    given = [fields[name] for name in names]
    rest = [
        field
        for name, field in fields.items()
        if name not in names and not isinstance(field, AutoField | BigAutoField)
    ]
    constants = [field.get_db_prep_save(field.get_default(), connection) for field in rest]
    columns = [str(field.column) for field in (*given, *rest)]
    prepared = ((*_prepared(given, row), *constants) for row in rows)
    count = 0
    while batch := list(islice(prepared, BATCH)):
        _write(model._meta.db_table, columns, batch)
        count += len(batch)
    return count


def _prepared(fields: Sequence[Field], row: Sequence[Any]) -> Iterator[Any]:
    if connection.vendor == "postgresql":
        return iter(row)
    return (
        value
        if value is None or isinstance(value, int | str)
        else field.get_db_prep_save(value, connection)
        for field, value in zip(fields, row, strict=True)
    )


def _write(table: str, columns: Sequence[str], batch: Sequence[Sequence[Any]]) -> None:
    named = ", ".join(f'"{column}"' for column in columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.cursor.copy(f"COPY {table} ({named}) FROM STDIN") as copy:
                for row in batch:
                    copy.write_row(row)
            return
        marks = ", ".join(["%s"] * len(columns))
        cursor.executemany(f"INSERT INTO {table} ({named}) VALUES ({marks})", batch)


def go_on_counting(*models: type[Model]) -> None:
    """Let the next keys of these tables follow the keys that were given."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), list(models)):
            cursor.execute(statement)


def lift_time_limit() -> None:
    """Let statements of this transaction take as long as they need."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL statement_timeout = 0")


def take_stock_of_tables() -> None:
    """Let the database's planner know how large the tables are now."""
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
