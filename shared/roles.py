"""Who may do what: roles of members, scopes of keys, and the one table that both obey."""

from __future__ import annotations

LEAD, OPERATOR, VIEWER = "lead", "operator", "viewer"
ROLES = (LEAD, OPERATOR, VIEWER)

READ, RECORD, MANAGE = "read", "record", "manage"
SCOPES = (READ, RECORD, MANAGE)

MAY: dict[str, frozenset[str]] = {
    READ: frozenset(ROLES),
    RECORD: frozenset({LEAD, OPERATOR}),
    "correct": frozenset({LEAD, OPERATOR}),
    "hold": frozenset({LEAD, OPERATOR}),
    "release": frozenset({LEAD}),
    "void": frozenset({LEAD}),
    "verdict": frozenset(ROLES),
    "key": frozenset(ROLES),
    "moderate": frozenset({LEAD, OPERATOR}),
    "report": frozenset({LEAD, OPERATOR}),
    "publish": frozenset({LEAD}),
    MANAGE: frozenset({LEAD}),
}
"""Action → roles that may take it. Anything that is not named here nobody may do."""

NEEDS: dict[str, str] = {
    READ: READ,
    RECORD: RECORD,
    "correct": RECORD,
    "hold": RECORD,
    "release": MANAGE,
    "void": MANAGE,
    "verdict": RECORD,
    "key": MANAGE,
    "moderate": RECORD,
    "report": RECORD,
    "publish": MANAGE,
    MANAGE: MANAGE,
}
"""Action → the least scope of a key that may take it."""


def may(action: str, role: str, scope: str = MANAGE) -> bool:
    """Say whether a role, acting with a scope, may take an action; no is the default.

    Examples
    --------
    >>> may("record", "operator"), may("record", "viewer"), may("void", "lead", "record")
    (True, False, False)
    """
    if action not in MAY or role not in MAY[action] or scope not in SCOPES:
        return False
    return SCOPES.index(scope) >= SCOPES.index(NEEDS[action])
