"""Saying in one line what a deed is refused with."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection

from recycling.ledger.models import Entry, Posting
from recycling.models import Composition, Draw, Lot, Run
from shared.errors import Refused


@contextmanager
def refused(*codes: str, pointer: str | None = None, says: str = "") -> Iterator[list[Refused]]:
    """Expect a refusal with exactly these codes, and that nothing was written."""
    before, kept = _rows(), []
    with pytest.raises(Refused) as caught:
        yield kept
    kept.append(caught.value)
    assert [problem.code for problem in caught.value.problems] == list(codes)
    if pointer is not None:
        assert [problem.pointer for problem in caught.value.problems] == [pointer] * len(codes)
    assert says in str(caught.value), str(caught.value)
    assert _rows() == before
    assert not connection.needs_rollback


def _rows() -> list[int]:
    return [model.objects.count() for model in (Entry, Posting, Lot, Run, Draw, Composition)]
