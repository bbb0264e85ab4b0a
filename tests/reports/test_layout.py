"""Bytes of a report's files change only together with the number of their layout.

The golden file holds, for a small and a full report in each language, the SHA-256 of what the
layout that it names made of them, and the versions of the libraries that took part. After a change
that is meant, raise ``LAYOUT`` and write it anew: ``WRITE_GOLDEN=1 pytest`` on this file.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import zipfile
from functools import cache
from importlib.metadata import version
from pathlib import Path

import pytest

from recycling.records.reports.files import FILES, XLSX
from recycling.reports.file_checks import file_check
from recycling.reports.frozen_files import file_of, files_of
from recycling.tables.reports.json_file import json_of
from recycling.tables.reports.layout import LAYOUT, MARK
from tests.reports.sample import report

KEPT = Path(__file__).parent / "kept"
GOLDEN = KEPT / "golden.json"
PACKAGES = ("Django", "typst", "xlsxwriter")
LANGUAGES = ("en", "de")
REPORTS = {
    **{f"small {language}": json_of(report(language=language)) for language in LANGUAGES},
    **{f"full {language}": (KEPT / f"full_{language}.json").read_text() for language in LANGUAGES},
}
BEFORE = sorted(KEPT.glob("before_layouts.*"))
"""The small report as a version set it that knew no layouts; its mark is of source files."""


def unpacked(held: bytes) -> bytes:
    """Return what a spreadsheet holds: how it is packed depends on the library of the machine."""
    with zipfile.ZipFile(io.BytesIO(held)) as book:
        return b"".join(name.encode() + book.read(name) for name in book.namelist())


@cache
def made(name: str) -> dict[str, str]:
    files = files_of(REPORTS[name])
    return {
        kind: hashlib.sha256(unpacked(held) if kind == XLSX else held).hexdigest()
        for kind, held in files.items()
    }


def golden() -> dict:
    return json.loads(GOLDEN.read_text())


@pytest.mark.skipif("WRITE_GOLDEN" not in os.environ, reason="only when a layout is raised")
def test_write_the_golden_file():
    assert not GOLDEN.exists() or golden()["layout"] < LAYOUT, "raise LAYOUT first"
    files = {name: made(name) for name in REPORTS}
    packages = {name: version(name) for name in PACKAGES}
    held = {"layout": LAYOUT, "packages": packages, "files": files}
    GOLDEN.write_text(json.dumps(held, indent=1) + "\n")


def test_the_golden_file_is_of_this_layout_and_these_libraries():
    assert golden()["layout"] == LAYOUT, "write the golden file anew"
    assert set(golden()["files"]) == set(REPORTS)
    now = {name: version(name) for name in PACKAGES}
    assert now == golden()["packages"], "a library is another: see whether bytes changed with it"


@pytest.mark.parametrize("name", REPORTS)
@pytest.mark.parametrize("kind", FILES)
def test_a_file_is_what_its_layout_always_made(name, kind):
    assert made(name)[kind] == golden()["files"][name][kind], (
        f"another {kind} is made of the {name} report: raise LAYOUT in documents_layout and write"
        " the golden file anew, or undo what changed it"
    )


@pytest.mark.parametrize("path", BEFORE, ids=lambda path: path.suffix)
def test_a_file_from_before_layouts_is_genuine_as_long_as_its_bytes_can_be_made(path):
    body = REPORTS["small en"]
    found = file_check(path.read_bytes(), body)
    assert (found.verdict, found.remade, found.differences) == ("genuine", True, ())


@pytest.mark.parametrize("path", BEFORE, ids=lambda path: path.suffix)
def test_a_file_from_before_layouts_is_not_genuine_once_a_byte_changed(path):
    held, body = path.read_bytes(), REPORTS["small en"]
    for place in range(40, len(held), len(held) // 7):
        changed = held[:place] + bytes([held[place] ^ 1]) + held[place + 1 :]
        assert file_check(changed, body).verdict != "genuine", place


def test_there_are_files_from_before_layouts():
    assert {path.suffix for path in BEFORE} == {".pdf", ".html", ".xlsx"}
    assert MARK.encode() not in b"".join(path.read_bytes() for path in BEFORE)


@pytest.mark.parametrize("kind", ["pdf", "html"])
def test_a_file_says_its_layout_and_a_later_one_is_only_of_figures_intact(kind):
    later = file_of(REPORTS["small en"], kind, f"layout:{LAYOUT + 1}")
    assert MARK.encode() in file_of(REPORTS["small en"], kind)
    assert file_check(later).verdict == "intact"
