"""What is said when a key was given out."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime


@dataclass(frozen=True)
class KeyIssued:
    """A key that was given out.

    Attributes
    ----------
    key : int
        Its id.
    secret : str
        What to send; shown this once.
    scope : str
        "read", "record" or "manage".
    expires_at : datetime
        Until when it is valid.
    """

    key: int
    secret: str = field(repr=False)
    scope: str
    expires_at: datetime
