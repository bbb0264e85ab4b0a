"""A file is verified without the server: by what it carries, and by making it again."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import zlib
from pathlib import Path

import pytest

from recycling.records.reports.files import FILES
from recycling.reports.file_checks import file_check
from recycling.reports.frozen_files import file_of, files_of
from recycling.tables.reports.json_file import digest_of_text, json_of
from recycling.tables.reports.layout import LAYOUT, MARK
from tests.reports.sample import report, with_text

ROOT = Path(__file__).resolve().parents[2]
BODY = json_of(report())
DIGEST = digest_of_text(BODY)
CARRYING = ("pdf", "json", "html")
OTHER = f"layout:{LAYOUT + 1}"


@pytest.fixture(scope="module")
def files():
    return files_of(BODY)


@pytest.mark.parametrize("kind", FILES)
def test_a_file_as_it_was_made_is_genuine(files, kind):
    found = file_check(files[kind], BODY, DIGEST)
    assert (found.verdict, found.kind, found.differences) == ("genuine", kind, ())
    assert found.digest == DIGEST and found.remade
    alone = file_check(files[kind])
    assert alone.verdict == ("genuine" if kind in CARRYING else "open")
    assert kind == "json" or (alone.report, alone.says_digest) == ("D3-8", DIGEST)


@pytest.mark.parametrize("kind", FILES)
def test_a_file_with_a_byte_changed_is_not(files, kind):
    held = files[kind]
    for place in range(40, len(held), max(len(held) // 9, 1)):
        other = bytes([held[place] ^ 1])
        changed = held[:place] + other + held[place + 1 :]
        assert file_check(changed, BODY).verdict in ("changed", "none"), place
    assert file_check(held + b" ", BODY).verdict in ("changed", "none")


def test_figures_that_were_changed_everywhere_have_another_digest(files):
    """Whoever makes a whole new file gets one that fits itself; the digest published tells."""
    forged = files_of(BODY.replace("412600001", "412600002"))
    for kind in CARRYING:
        assert file_check(forged[kind]).verdict == "genuine"
        assert file_check(forged[kind], digest=DIGEST).verdict == "changed"
    for kind in FILES:
        assert file_check(forged[kind], BODY).verdict == "changed"


def test_a_csv_names_the_figures_that_differ(files):
    changed = files["csv"].replace(b"412600001", b"512600001")
    said = "\n".join(file_check(changed, BODY).differences)
    assert "collected_mg" in said and "512600001; it should be 412600001" in said
    short = files["csv"].rpartition(b"\r\n")[0].rpartition(b"\r\n")[0] + b"\r\n"
    assert "rows; there should be" in file_check(short, BODY).differences[0]


def test_a_pdf_whose_digest_was_painted_over(files):
    painted = files["pdf"].replace(DIGEST.encode(), b"0" * 64)
    assert painted != files["pdf"]
    said = file_check(painted)
    assert said.verdict == "changed" and said.says_digest == "0" * 64


def test_what_is_no_report(files):
    for held in (
        b"",
        b"hello",
        b"%PDF-1.7",
        b"PK\x03\x04",
        b"{",
        b"{}",
        b"<!doctype html>",
        b"\xff",
    ):
        assert file_check(held).verdict == "none", held
    with pytest.raises(ValueError, match="report"):
        file_check(files["pdf"], "{}")


def test_a_pdf_that_unpacks_to_too_much_is_refused():
    packed = zlib.compress(b"0" * (65 * 2**20), 9)
    held = b"%%PDF-1.7\n1 0 obj\n<</Length %d/Type/EmbeddedFile/Filter/FlateDecode>>\nstream\n%s"
    found = file_check(held % (len(packed), packed))
    assert found.verdict == "none" and "larger" in found.differences[0]


@pytest.mark.slow
def test_a_large_report_is_read_back_from_its_pdf():
    body = json_of(with_text("word " * 3000))
    assert file_check(files_of(body)["pdf"]).verdict == "genuine"


def command(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", "verify_report", *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        env=os.environ | {"DATABASE_URL": "postgres://nobody@127.0.0.1:1/none"},
    )


@pytest.mark.slow
def test_the_command_needs_no_database(files, tmp_path):
    for kind in ("pdf", "json", "csv"):
        (tmp_path / f"report.{kind}").write_bytes(files[kind])
    done = command(tmp_path / "report.pdf", "--digest", DIGEST.upper())
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Genuine") and DIGEST in done.stdout and "D3-8" in done.stdout
    assert command(tmp_path / "report.csv").returncode == 2
    against = ("--against", tmp_path / "report.json")
    assert command(tmp_path / "report.csv", *against).returncode == 0
    (tmp_path / "report.csv").write_bytes(files["csv"].replace(b"412600001", b"1"))
    done = command(tmp_path / "report.csv", *against)
    assert done.returncode == 1 and re.search(r"1; it should be 412600001", done.stdout)
    missing = command(tmp_path / "nothing.pdf")
    assert missing.returncode == 1 and "cannot be read" in missing.stderr


def of_another_version(held: bytes) -> bytes:
    """Give a file as another version might have set it: another mark, and so other bytes."""
    assert MARK.encode() in held
    return held.replace(MARK.encode(), OTHER.encode())


@pytest.mark.parametrize("kind", ["pdf", "html"])
def test_a_file_that_another_version_set_has_its_figures_intact(files, kind):
    older = of_another_version(files[kind])
    for found in (file_check(older), file_check(older, BODY), file_check(older, BODY, DIGEST)):
        assert (found.verdict, found.differences, found.remade) == ("intact", (), False)
        assert found.digest == found.says_digest == DIGEST
    assert file_check(older, digest="0" * 64).verdict == "changed"
    others = BODY.replace("412600001", "412600002")
    assert file_check(older, others).verdict == "changed"
    painted = older.replace(DIGEST.encode(), b"0" * 64)
    assert file_check(painted).verdict == "changed", "it says another digest than it carries"


def test_figures_that_another_version_is_said_to_have_set_are_still_compared(files):
    older = of_another_version(files["html"]).decode()
    changed = older.replace("412600001", "412600002").encode()
    assert changed != older.encode() and file_check(changed).verdict == "changed"


def test_a_spreadsheet_of_another_version_is_not_decided(files):
    older = file_of(BODY, "xlsx", OTHER)
    found = file_check(older, BODY)
    assert older != files["xlsx"]
    assert (found.verdict, found.says_digest) == ("open", DIGEST)


def test_the_command_tells_figures_that_are_intact_from_a_file_that_was_changed(files, tmp_path):
    (tmp_path / "older.pdf").write_bytes(of_another_version(files["pdf"]))
    done = command(tmp_path / "older.pdf", "--digest", DIGEST)
    assert done.returncode == 3 and done.stdout.startswith("Figures intact")
    assert DIGEST in done.stdout and "NOT" not in done.stdout
