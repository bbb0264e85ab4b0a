"""Signatures of backups: whoever can write to where backups lie cannot make one that is believed.

Sources
-------
.. [1] RFC 2104, HMAC: Keyed-Hashing for Message Authentication, 1997, 3: a key is at least as long
   as the hash.
.. [2] RFC 4231: test cases of HMAC-SHA-256.
"""

from __future__ import annotations

import hmac
from pathlib import Path

from django.conf import settings

from shared.errors import Refused
from shared.said import say

SIGNATURE = "manifest.hmac"
LEAST_KEY = 32
"""Bytes that a key has at least: as many as the hash [1]_."""


def signature_of(key: bytes, manifest: bytes) -> str:
    """Sign a manifest, and with it all digests that it holds: HMAC-SHA-256, hexadecimal."""
    return hmac.digest(key, manifest, "sha256").hex()


def backup_key(folder: Path) -> bytes:
    """Read the key of the settings; empty where none is set.

    Raises
    ------
    Refused
        When its file is missing, lies among the backups, or it is too short.
    """
    named = settings.BACKUP_KEY_FILE
    if not named:
        return _long_enough(settings.BACKUP_KEY.strip().encode())
    path = Path(named)
    if path.resolve().is_relative_to(folder.resolve()):
        raise Refused.because(
            "backup-key-beside", "The key lies among the backups. Keep it in another place."
        )
    try:
        return _long_enough(path.read_bytes().strip(), needed=True)
    except OSError as error:
        said = say("The key of BACKUP_KEY_FILE cannot be read: {file}.", file=str(path))
        raise Refused.because("backup-key-missing", said) from error


def _long_enough(key: bytes, needed: bool = False) -> bytes:
    if (key or needed) and len(key) < LEAST_KEY:
        said = say("The key for backups is too short: it has at least {n} signs.", n=LEAST_KEY)
        raise Refused.because("backup-key-short", said)
    return key


def sign(folder: Path, key: bytes, manifest: bytes) -> Path | None:
    """Write the signature of a manifest that is yet to be written; without a key none."""
    if not key:
        return None
    path = folder / SIGNATURE
    path.write_text(signature_of(key, manifest) + "\n")
    return path


def check_signature(folder: Path, key: bytes, manifest: bytes) -> str:
    """Say whether a manifest is signed: "signed", "unsigned", or "unchecked" without a key.

    Raises
    ------
    Refused
        When a key is set and the manifest is not signed, or not with this key as it is now.
    """
    path = folder / SIGNATURE
    if not key:
        return "unchecked" if path.exists() else "unsigned"
    if not path.is_file():
        raise Refused.because(
            "backup-unsigned",
            "This backup is not signed, and a key for backups is set. If you know that it is yours"
            " and from before there was a key, do it without the key.",
        )
    given = path.read_bytes()[:1000].strip()
    if not hmac.compare_digest(signature_of(key, manifest).encode(), given):
        raise Refused.because(
            "backup-signature-wrong",
            "The signature does not fit: the backup was changed, or signed with another key.",
        )
    return "signed"
