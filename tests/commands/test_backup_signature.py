"""Signed backups: whatever was altered is refused, in words, before anything is put back."""

from __future__ import annotations

import hashlib
import io
import json
from dataclasses import asdict
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from recycling.management.backup_signature import SIGNATURE, sign, signature_of
from recycling.management.backups import FILES, MANIFEST, Manifest

KEY, OTHER = b"k" * 64, b"o" * 64


@pytest.fixture
def key_file(tmp_path, settings):
    path = tmp_path / "away" / "key"
    path.parent.mkdir()
    path.write_bytes(KEY + b"\n")
    settings.BACKUP_KEY_FILE = str(path)
    return path


@pytest.fixture
def made(tmp_path) -> Path:
    """A backup as it is made, of a file that no database needs to read."""
    folder = tmp_path / "backups" / "2026-03-02T080000Z"
    folder.mkdir(parents=True)
    file = folder / FILES["sqlite"]
    file.write_bytes(b"a book")
    digest = hashlib.sha256(b"a book").hexdigest()
    told = Manifest("2026-03-02T08:00:00+00:00", "sqlite", file.name, digest, 7, "0" * 64)
    written = json.dumps(asdict(told)).encode()
    sign(folder, KEY, written)
    (folder / MANIFEST).write_bytes(written)
    return folder


def verified(folder: Path) -> str:
    out = io.StringIO()
    call_command("verify_backup", str(folder), stdout=out)
    return out.getvalue()


def refused(folder: Path, why: str) -> None:
    """Both the check and the restore refuse, and say why."""
    with pytest.raises(CommandError, match=f"Do not put this back.*{why}"):
        verified(folder)
    with pytest.raises(CommandError, match=f"Nothing was put back.*{why}"):
        call_command("restore", str(folder))


@pytest.mark.parametrize(
    ("key", "data", "code"),
    [
        (
            b"\x0b" * 20,
            b"Hi There",
            "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7",
        ),
        (
            b"Jefe",
            b"what do ya want for nothing?",
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
        ),
    ],
)
def test_signatures_are_those_of_rfc_4231(key, data, code):
    """RFC 4231, 4.2 and 4.3: HMAC-SHA-256."""
    assert signature_of(key, data) == code


def test_a_backup_as_it_was_made_is_said_to_be_signed(made, key_file):
    said = verified(made)
    assert "Whole: 7 postings as of 2026-03-02T08:00:00+00:00" in said and "Signed with" in said


def test_the_key_may_be_given_itself(made, settings):
    settings.BACKUP_KEY = KEY.decode()
    assert "Signed with" in verified(made)


def test_an_altered_file_is_refused(made, key_file):
    (made / FILES["sqlite"]).write_bytes(b"A book")
    refused(made, "is not the file that was backed up")


def test_a_manifest_altered_to_fit_an_altered_file_is_refused(made, key_file):
    (made / FILES["sqlite"]).write_bytes(b"A book")
    told = json.loads((made / MANIFEST).read_text())
    fits = told | {"file_sha256": hashlib.sha256(b"A book").hexdigest()}
    (made / MANIFEST).write_text(json.dumps(fits))
    refused(made, "The signature does not fit")


def test_each_byte_of_the_manifest_is_signed(made, key_file):
    whole = (made / MANIFEST).read_bytes()
    (made / MANIFEST).write_bytes(whole + b" ")
    refused(made, "The signature does not fit")
    (made / MANIFEST).write_bytes(whole)
    assert "Signed with" in verified(made)


def test_another_key_is_refused(made, key_file):
    key_file.write_bytes(OTHER)
    refused(made, "signed with another key")


@pytest.mark.parametrize("left", [None, b"", b"\xff\xfe not hexadecimal", b"0" * 64])
def test_a_signature_that_is_missing_or_none_is_refused(made, key_file, left):
    if left is None:
        (made / SIGNATURE).unlink()
        refused(made, "is not signed, and a key for backups is set")
    else:
        (made / SIGNATURE).write_bytes(left)
        refused(made, "The signature does not fit")


def test_without_a_key_it_is_said_that_nobody_checked(made):
    assert "Signed, but not checked" in verified(made)
    (made / SIGNATURE).unlink()
    assert "Not signed" in verified(made)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("key", "why"), [(b"short", "too short"), (b"\n", "too short"), (None, "cannot be read")]
)
def test_a_key_that_is_none_is_refused_before_anything(made, key_file, key, why):
    key_file.write_bytes(key) if key else key_file.unlink()
    refused(made, why)
    with pytest.raises(CommandError, match=f"Nothing was backed up.*{why}"):
        call_command("backup", str(made.parent))
    assert [*made.parent.iterdir()] == [made]


def test_a_key_among_the_backups_is_refused(made, settings):
    path = made.parent / "key"
    path.write_bytes(KEY)
    settings.BACKUP_KEY_FILE = str(path)
    refused(made, "lies among the backups")
