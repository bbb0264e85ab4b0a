"""Figures from outside, for the tests of the calculations."""

import pytest

from tests.checked import check


@pytest.fixture(scope="session")
def independent_check():
    """Look up a figure of ``tests/checks/figures.json`` by its number."""
    return check
