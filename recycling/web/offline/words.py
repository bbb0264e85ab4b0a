"""What script says of the outbox, in the language of the page."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils.translation import gettext as _


def device(request: HttpRequest) -> dict[str, Any]:
    """Give every page the words of the outbox, and whether it is a copy that is kept."""
    return {"device_words": words(), "kept_copy": getattr(request, "kept_copy", False)}


def words() -> dict[str, Any]:
    return {
        "waiting": {"one": _("{count} entry waiting"), "other": _("{count} entries waiting")},
        "refused": {
            "one": _("{count} entry was refused: look at it"),
            "other": _("{count} entries were refused: look at them"),
        },
        "states": {
            "waiting": _("Waiting for the network; not in the book yet"),
            "refused": _("Refused; not in the book"),
            "recorded": _("Recorded"),
            "others": _("Made by somebody else; it is sent when they sign in here"),
            "unclaimed": _("Made while nobody was acting; whoever made it sends it"),
        },
        "made": _("Made at {when}"),
        "putRight": _("Put it right and send it again"),
        "claim": _("I made it: send it in my name"),
        "dismiss": _("Take it off this list"),
        "discarded": _("Discarded"),
        "asksMore": _("The page asks for something more before it can be recorded."),
    }
