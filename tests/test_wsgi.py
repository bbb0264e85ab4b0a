"""The entrance for WSGI servers."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.serving import ROOT


@pytest.mark.slow
def test_every_door_and_job_is_there_before_the_first_request():
    known = "import sys, recycling.wsgi; print({'api.urls', 'recycling.tasks'} <= set(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", known], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout == "True\n"
