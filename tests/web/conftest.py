"""What every test in a browser shares."""

from __future__ import annotations

import pytest

from tests.web.browsers import started


@pytest.fixture(scope="module")
def chromium():
    with started() as browser:
        yield browser
