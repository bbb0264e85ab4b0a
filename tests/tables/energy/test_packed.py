"""Columns of energy survive being written as bytes."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from recycling.tables.energy.packed import SAMPLES, STORED, packed, unpacked


@pytest.mark.parametrize("kinds", [SAMPLES, STORED])
def test_what_was_packed_comes_back(kinds):
    rng = np.random.default_rng(3)
    columns = [rng.integers(-(2**60), 2**60, 500) * 1.0 for _ in kinds]
    columns = [column.astype(kind) for column, kind in zip(columns, kinds, strict=True)]
    back = unpacked(packed(columns, kinds), 500, kinds)
    for there, here in zip(columns, back, strict=True):
        assert there.tolist() == here.tolist()


def test_bytes_are_little_endian_columns_one_after_another():
    """Held against the standard library's struct, whose layout is documented."""
    blob = packed([np.array([1, 2]), np.array([0.5, 1.5]), np.array([60.0, 60.0])], SAMPLES)
    assert struct.unpack("<2q4d", blob) == (1, 2, 0.5, 1.5, 60.0, 60.0)
