"""Backups of the whole service by its database's own means, and back into an empty one.

A backup is a folder: the database as it was at one moment, and a manifest that is written last,
with the digest of the file and of all postings. A folder without manifest is no backup. Where a
key is set, a signature of the manifest is written just before it, and asked for.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.db.backends.postgresql.client import DatabaseClient

from recycling.management.backup_signature import backup_key, check_signature, sign
from shared.errors import Refused
from shared.said import say

MANIFEST = "manifest.json"
FILES = {"sqlite": "book.sqlite3", "postgresql": "book.pgdump"}
SIGNED = {
    "signed": "Signed with the key that is set.",
    "unsigned": "Not signed: whoever can write where it lies could have changed it.",
    "unchecked": "Signed, but not checked: no key is set (BACKUP_KEY_FILE).",
}
POSTINGS = """
SELECT id, entry_id, account_id, mass_mg FROM ledger_posting WHERE id > {:d} ORDER BY id LIMIT 10000
"""


@dataclass(frozen=True)
class Manifest:
    """What a backup holds.

    Attributes
    ----------
    made_at : str
        When it was begun, ISO 8601 UTC.
    engine : {"sqlite", "postgresql"}
        The database that it is of.
    file, file_sha256 : str
        Name of the database's file in the folder, and its digest.
    postings : int
        How many postings there are.
    postings_sha256 : str
        Digest of the key, entry, account and mass of each posting, in order of key.
    """

    made_at: str
    engine: str
    file: str
    file_sha256: str
    postings: int
    postings_sha256: str


def backup_make(folder: Path) -> tuple[Path, Manifest]:
    """Write a backup into a new folder, named by the time, inside the one that is given.

    Raises
    ------
    Refused
        When the key for backups cannot be used, or the database's own tool is missing or fails;
        nothing is left behind then.
    OSError
        When the folder cannot be written.
    """
    key, now = backup_key(folder), datetime.now(UTC)
    made = folder / now.strftime("%Y-%m-%dT%H%M%S.%fZ")
    made.mkdir(parents=True, mode=0o700)
    engine = connection.vendor
    file = made / FILES[engine]
    try:
        file.touch(mode=0o600)
        count, digest = (_from_sqlite if engine == "sqlite" else _from_postgres)(file)
        said = now.isoformat(timespec="seconds")
        manifest = Manifest(said, engine, file.name, _digest_of(file), count, digest)
        _on_disk(file)
        written = json.dumps(asdict(manifest), indent=2).encode()
        if signature := sign(made, key, written):
            _on_disk(signature)
        (made / MANIFEST).write_bytes(written)
        _on_disk(made / MANIFEST)
    except BaseException:
        shutil.rmtree(made)
        raise
    return made, manifest


def backup_restore(folder: Path) -> tuple[Manifest, str, bool]:
    """Put a backup into the database of the settings, which must hold nothing.

    Says whether it is signed, and whether all postings are there as they were backed up.

    Raises
    ------
    Refused
        When the folder is no whole backup, was changed, is not signed with the key that is set, is
        of another kind of database, or the database holds something already; nothing is changed
        then.
    """
    manifest, signed = backup_check(folder)
    file = folder / manifest.file
    if manifest.engine != connection.vendor:
        said = say("This is a backup of {engine}; name such a database.", engine=manifest.engine)
        raise Refused.because("backup-of-another-database", said)
    if connection.introspection.table_names():
        raise Refused.because("database-not-empty", "A backup goes into an empty database only.")
    (_into_sqlite if manifest.engine == "sqlite" else _into_postgres)(file)
    with connection.cursor() as cursor:
        found = _postings_of(cursor)
    return manifest, signed, found == (manifest.postings, manifest.postings_sha256)


def backup_check(folder: Path) -> tuple[Manifest, str]:
    """Check a backup without putting it back: its signature, then the digest of its file.

    Says too whether it is "signed", "unsigned", or "unchecked": signed, and no key is set.

    Raises
    ------
    Refused
        When the folder is no whole backup, was changed, or is not signed with the key that is set.
    """
    key = backup_key(folder.resolve().parent)
    manifest, written = read_manifest(folder)
    signed = check_signature(folder, key, written)
    file = folder / manifest.file
    if not file.is_file() or _digest_of(file) != manifest.file_sha256:
        said = say("{file} is not the file that was backed up.", file=manifest.file)
        raise Refused.because("backup-changed", said)
    return manifest, signed


def read_manifest(folder: Path) -> tuple[Manifest, bytes]:
    """Read what a backup says of itself, and that as it is written.

    Raises
    ------
    Refused
        When there is no manifest that can be read: the backup was never finished, or is none.
    """
    try:
        written = (folder / MANIFEST).read_bytes()
        manifest = Manifest(**json.loads(written))
        if manifest.file != FILES[manifest.engine]:
            raise ValueError(manifest.file)
    except (OSError, ValueError, TypeError, KeyError) as error:
        said = say("{folder} is no whole backup: it has no manifest.", folder=str(folder))
        raise Refused.because("no-backup", said) from error
    return manifest, written


def older_than(folder: Path, keep: int) -> list[Path]:
    """List whole backups in a folder beyond the newest ones, oldest first."""
    whole = sorted(one.parent for one in folder.glob(f"*/{MANIFEST}"))
    return whole[: max(0, len(whole) - keep)]


def _from_sqlite(file: Path) -> tuple[int, str]:
    connection.ensure_connection()
    with closing(sqlite3.connect(file)) as copy:
        connection.connection.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
        return _postings_of(copy.cursor())


def _into_sqlite(file: Path) -> None:
    connection.ensure_connection()
    with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)) as copy:
        copy.backup(connection.connection)
    connection.close()  # the next one sets its journal again


def _from_postgres(file: Path) -> tuple[int, str]:
    """Dump in the snapshot of this transaction, so that the digest is of the same moment."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SET LOCAL statement_timeout = 0")
        cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0")
        cursor.execute("SELECT pg_export_snapshot()")
        (snapshot,) = cursor.fetchone()
        _tool("pg_dump", "--format=custom", f"--snapshot={snapshot}", f"--file={file}")
        return _postings_of(cursor)


def _into_postgres(file: Path) -> None:
    _tool("pg_restore", "--exit-on-error", "--single-transaction", str(file), into=True)


def _tool(name: str, *arguments: str, into: bool = False) -> None:
    """Run one of PostgreSQL's own programs on the database of the settings."""
    command, env = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    *place, database = command[1:]
    wanted = [name, *place, "--no-owner", "--no-privileges", *arguments]
    wanted += [f"--dbname={database}"]
    try:
        subprocess.run(
            wanted,
            env=os.environ | (env or {}) | {"PGOPTIONS": ""},
            check=True,
            capture_output=True,
            text=True,
        )
    except FileNotFoundError as error:
        said = say("{tool} is not installed: it comes with PostgreSQL.", tool=name)
        raise Refused.because("database-tool-missing", said) from error
    except subprocess.CalledProcessError as error:
        said = say("{tool} failed: {why}", tool=name, why=error.stderr.strip()[-500:])
        raise Refused.because("database-tool-failed", said) from error


def _postings_of(cursor: Any) -> tuple[int, str]:
    """Count the postings, and give their digest."""
    count, last, digest = 0, 0, hashlib.sha256()
    while True:
        cursor.execute(POSTINGS.format(last))
        rows = cursor.fetchall()
        if not rows:
            return count, digest.hexdigest()
        count, last = count + len(rows), rows[-1][0]
        digest.update("".join("{} {} {} {}\n".format(*row) for row in rows).encode())


def _digest_of(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _on_disk(file: Path) -> None:
    with file.open("rb") as opened:
        os.fsync(opened.fileno())
