"""A page of a list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

Row = TypeVar("Row")


@dataclass(frozen=True)
class Page(Generic[Row]):
    """A part of a list in a stable order.

    Attributes
    ----------
    rows : tuple
        The rows.
    next : str
        Cursor for the rows that follow; empty at the end.
    """

    rows: tuple[Row, ...]
    next: str = ""
