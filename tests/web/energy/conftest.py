"""The same people as at the recording pages."""

from __future__ import annotations

from tests.web.recording.conftest import lead, operator, stranger, viewer

__all__ = ["lead", "operator", "stranger", "viewer"]
