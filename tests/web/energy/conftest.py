"""The same people as at the recording pages."""

from __future__ import annotations

import pytest

from tests.web.recording.conftest import Hand, hand_of, operator, set_up, stranger, viewer

__all__ = ["operator", "stranger", "viewer"]


@pytest.fixture
def lead(db) -> Hand:
    """Made for each test: one of them has threads of its own that must see it."""
    return hand_of(set_up())
