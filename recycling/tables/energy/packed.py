"""Columns of an energy log as bytes: little-endian arrays of 64-bit numbers, one after another."""

from collections.abc import Sequence

import numpy as np

STORED = ("<i8", "<f8", "<i8")
"""Of a log: moments in µs, kWh and covered µs accumulated up to each."""
SAMPLES = ("<i8", "<f8", "<f8")
"""Of power: moments in µs, W, and the longest time in s that each sample stands for."""
POINTS_IN_A_BLOCK = 4096


def packed(columns: Sequence[np.ndarray], kinds: Sequence[str]) -> bytes:
    """Write columns of one length as bytes.

    Examples
    --------
    >>> kinds = ("<i8", "<f8")
    >>> blob = packed([np.array([1, 2]), np.array([0.5, 1.5])], kinds)
    >>> [column.tolist() for column in unpacked(blob, 2, kinds)]
    [[1, 2], [0.5, 1.5]]
    """
    return b"".join(
        np.ascontiguousarray(column, dtype=kind).tobytes()
        for column, kind in zip(columns, kinds, strict=True)
    )


def unpacked(blob: bytes, count: int, kinds: Sequence[str]) -> tuple[np.ndarray, ...]:
    """Read columns of so many rows back from bytes; the inverse of `packed`."""
    return tuple(
        np.frombuffer(blob, dtype=kind, count=count, offset=8 * count * place)
        for place, kind in enumerate(kinds)
    )
