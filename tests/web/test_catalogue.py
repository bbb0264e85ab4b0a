"""The second language is whole: every string that people read is there, with the same places."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import polib
import pytest

from recycling.management.commands.catalogue import declared_words
from recycling.stages import STAGES

ROOT = Path(__file__).resolve().parents[2]
GERMAN = ROOT / "recycling/locale/de/LC_MESSAGES/django.po"
PLACES = re.compile(r"%\(\w+\)[a-z]|%[sd]|\{[^{}]*\}")


@pytest.fixture(scope="module")
def german():
    return polib.pofile(str(GERMAN))


def test_nothing_is_left_untranslated(german):
    assert len(german) > 2000
    assert not [entry.msgid for entry in german if not entry.translated()]
    assert not [entry.msgid for entry in german if entry.fuzzy or entry.obsolete]


def test_a_translation_has_the_places_of_what_it_translates(german):
    for entry in german:
        said = entry.msgstr_plural.values() if entry.msgid_plural else [entry.msgstr]
        for text in said:
            kept = set(PLACES.findall(text))
            meant = set(PLACES.findall(entry.msgid)) | set(PLACES.findall(entry.msgid_plural))
            assert kept <= meant, entry.msgid
            if not entry.msgid_plural:
                assert kept == meant, entry.msgid


def test_what_runs_is_what_is_written(german):
    compiled = polib.mofile(str(GERMAN.with_suffix(".mo")))
    key = [(one.msgctxt, one.msgid, one.msgstr, one.msgstr_plural) for one in german]
    assert [(one.msgctxt, one.msgid, one.msgstr, one.msgstr_plural) for one in compiled] == sorted(
        key, key=lambda one: ((one[0] + "\x04") if one[0] else "") + one[1]
    )


@pytest.mark.skipif(
    not ("CI" in os.environ or (shutil.which("xgettext") and shutil.which("msgmerge"))),
    reason="collecting strings needs GNU gettext",
)
def test_every_string_is_in_the_catalogue(german, tmp_path):
    """The command runs in a copy of the sources; what it collects must be what is kept."""
    for room in ("recycling", "api", "shared", "templates", "manage.py"):
        source = ROOT / room
        copy = shutil.copytree if source.is_dir() else shutil.copy
        copy(source, tmp_path / room)
    environment = os.environ | {"DATA_DIR": str(tmp_path / "var"), "SERVE_UNHASHED_STATIC": "1"}
    subprocess.run(
        [sys.executable, "manage.py", "catalogue"], cwd=tmp_path, env=environment, check=True
    )
    collected = polib.pofile(str(tmp_path / GERMAN.relative_to(ROOT)))
    kept = {(entry.msgctxt, entry.msgid) for entry in german}
    assert {(entry.msgctxt, entry.msgid) for entry in collected} == kept


def test_hazards_and_machines_are_collected():
    """A hazard that is named in another language warns nobody."""
    words = set(declared_words())
    for stage in STAGES:
        assert {*stage.cautions, stage.machine} - {""} <= words
