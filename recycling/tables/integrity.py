"""The archive of a whole workshop as a file: a zip of JSON lines with a manifest, written last.

The form is described in ``docs/reference/archive.md``.
"""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from shared.errors import Refused
from shared.said import Said, say

FORMAT, VERSION = "regrind-ledger-archive", 1
MANIFEST, PEOPLE = "manifest.json", "people.jsonl"
MOST_MEMBERS = 200
MOST_MANIFEST = 2**20
GIB = 2**30
MOST_UNPACKED = 8 * GIB
MOST_LINE = 64 * 2**20
MOST_TIMES_SMALLER = 200
SMALL = 2**20
"""A member up to this size may be packed as tightly as it will."""
WRITTEN_AT = (1980, 1, 1, 0, 0, 0)
"""Equal facts give equal bytes; the manifest says when it was."""
NO_ARCHIVE = "This is no archive, or it was cut off on its way."
_NAME = re.compile(r"facts/\d{3}_[a-z]{1,40}\.jsonl|people\.jsonl|manifest\.json", re.ASCII)

Lines = Iterable[bytes]


@dataclass(frozen=True)
class Manifest:
    """What an archive says of itself.

    Attributes
    ----------
    about : dict
        The workshop, how far its book went, and the version of the service.
    members : dict
        For each member its rows, bytes and SHA-256.
    """

    about: dict[str, Any]
    members: dict[str, dict[str, Any]]


def write_archive(out: IO[bytes], about: dict[str, Any], parts: Iterable[tuple[str, Lines]]) -> int:
    """Write an archive and return how many rows it holds.

    Raises
    ------
    Refused
        When it would become one that is not taken back.
    """
    members: dict[str, dict[str, Any]] = {}
    left = MOST_UNPACKED
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for name, lines in parts:
            members[name] = _write_member(archive, name, lines, left)
            left -= members[name]["bytes"]
        manifest = {"format": FORMAT, "version": VERSION, **about, "members": members}
        said = json.dumps(manifest, ensure_ascii=False, indent=1, sort_keys=True).encode()
        if len(said) > min(left, MOST_MANIFEST) or len(members) >= MOST_MEMBERS:
            raise _more_than_fits()
        info = _info(MANIFEST)
        archive.writestr(info, said)
        if _is_bomb(info):
            raise _packs_too_well(MANIFEST)
    return sum(member["rows"] for member in members.values())


def _info(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, WRITTEN_AT)
    info.compress_type = zipfile.ZIP_DEFLATED
    return info


def _write_member(archive: zipfile.ZipFile, name: str, lines: Lines, left: int) -> dict[str, Any]:
    digest, rows, size, info = hashlib.sha256(), 0, 0, _info(name)
    with archive.open(info, "w", force_zip64=True) as member:
        for line in lines:
            rows, size = rows + 1, size + len(line)
            if len(line) > MOST_LINE:
                raise _not_written(
                    say("{name}, row {number}: too long for a line.", name=name, number=rows)
                )
            if size > left:
                raise _more_than_fits()
            member.write(line)
            digest.update(line)
    if _is_bomb(info):
        raise _packs_too_well(name)
    return {"rows": rows, "bytes": size, "sha256": digest.hexdigest()}


def _more_than_fits() -> Refused:
    return _not_written(
        say("An archive holds up to {most:g} GiB; this has more.", most=MOST_UNPACKED / GIB)
    )


def _packs_too_well(name: str) -> Refused:
    said = say("{name} packs so tightly that it would be taken for a trap.", name=name)
    return _not_written(said)


def _not_written(why: Said) -> Refused:
    return Refused.because(
        "archive-not-written",
        say(
            "No archive was written, as it could not be put back. {why} Nothing is wrong with the"
            " book: back up the database itself.",
            why=why,
        ),
    )


class Archive:
    """An archive that was looked over: sizes, names, manifest and digests fit together."""

    def __init__(self, file: zipfile.ZipFile, manifest: Manifest):
        self.file, self.manifest = file, manifest

    def names(self) -> list[str]:
        """Name the members but the manifest, in order."""
        return sorted(self.manifest.members)

    def rows(self, name: str) -> Iterator[Any]:
        """Read the rows of a member one by one.

        Raises
        ------
        Refused
            When a line is no JSON.
        """
        with self.file.open(name) as member:
            for number, line in enumerate(member, 1):
                try:
                    yield json.loads(line)
                except (ValueError, RecursionError) as error:
                    raise Refused.because(
                        "archive-unreadable",
                        say("{name}, line {number}: not JSON.", name=name, number=number),
                    ) from error


@contextmanager
def open_archive(path: Path | IO[bytes]) -> Iterator[Archive]:
    """Open an archive and look it over before anything is made of it.

    Raises
    ------
    Refused
        When it is no archive, was cut or changed, is of another version, or unpacks to too much.
    """
    with _zip(path) as file:
        try:
            _refuse_bomb(file)
            manifest = _manifest(file)
            for name, said in manifest.members.items():
                _compare(file, name, said)
        except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError) as error:
            raise Refused.because("archive-unreadable", NO_ARCHIVE) from error
        except zlib.error as error:
            raise Refused.because(
                "archive-changed", "The archive was damaged or changed."
            ) from error
        yield Archive(file, manifest)


def _zip(path: Path | IO[bytes]) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(path)
    except (zipfile.BadZipFile, EOFError, NotImplementedError) as error:
        raise Refused.because("archive-unreadable", NO_ARCHIVE) from error


def _refuse_bomb(file: zipfile.ZipFile) -> None:
    infos = file.infolist()
    names = [info.filename for info in infos]
    if len(infos) > MOST_MEMBERS or sum(info.file_size for info in infos) > MOST_UNPACKED:
        raise Refused.because("archive-too-large", "The archive unpacks to more than is taken.")
    for info in infos:
        if _is_bomb(info):
            raise Refused.because("archive-too-large", "The archive unpacks to more than is taken.")
    if len(set(names)) != len(names) or not all(map(_NAME.fullmatch, names)):
        raise Refused.because("archive-unreadable", "The archive holds files that do not belong.")


def _is_bomb(info: zipfile.ZipInfo) -> bool:
    packed = max(info.compress_size, 1)
    return info.file_size > SMALL and info.file_size > MOST_TIMES_SMALLER * packed


def _manifest(file: zipfile.ZipFile) -> Manifest:
    names = set(file.namelist())
    if MANIFEST not in names or file.getinfo(MANIFEST).file_size > MOST_MANIFEST:
        raise Refused.because(
            "archive-unreadable", "The archive has no manifest: it was not written to its end."
        )
    try:
        said = json.loads(file.read(MANIFEST))
        form, version, members = said.pop("format"), said.pop("version"), said.pop("members")
        fits = {
            name: {key: one[key] for key in ("rows", "bytes", "sha256")}
            for name, one in members.items()
        }
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise Refused.because("archive-unreadable", "The manifest cannot be read.") from error
    if (form, version) != (FORMAT, VERSION):
        raise Refused.because(
            "archive-version",
            say("This is no archive of version {version} of the format.", version=VERSION),
        )
    if names != {MANIFEST, *fits}:
        raise Refused.because(
            "archive-changed", "The archive does not hold what its manifest says."
        )
    return Manifest(said, fits)


def _compare(file: zipfile.ZipFile, name: str, said: dict[str, Any]) -> None:
    digest, rows, size = hashlib.sha256(), 0, 0
    with file.open(name) as member:
        while line := member.readline(MOST_LINE):
            digest.update(line)
            rows, size = rows + 1, size + len(line)
            if size > said["bytes"]:
                break
    if (rows, size, digest.hexdigest()) != (said["rows"], said["bytes"], said["sha256"]):
        raise Refused.because(
            "archive-changed",
            say("{name} is not what the manifest says: it was changed or damaged.", name=name),
        )
