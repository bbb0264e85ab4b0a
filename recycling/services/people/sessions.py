"""End sessions of one's own: the one that was chosen, or all but this one."""

from __future__ import annotations

from recycling.keeping.deed import refuse_read_only, retried
from recycling.models import UserSession
from recycling.queries.people.sessions import session_mark

ALL_OTHERS = "others"


def session_end(user_id: int, which: str, here: str) -> int:
    """End a session by its mark, or all others; return how many. This one is ended by signing out.

    Raises
    ------
    Unavailable
        When nothing can be written.
    """
    refuse_read_only()
    others = UserSession.objects.filter(user_id=user_id).exclude(session_key=here)
    keys = [
        key
        for key in others.values_list("session_key", flat=True)
        if which in (ALL_OTHERS, session_mark(key))
    ]
    return retried(lambda: UserSession.objects.filter(session_key__in=keys).delete()[0])
