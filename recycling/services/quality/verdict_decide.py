"""Look at verdicts that came in without an account: count them or set them aside."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.texts import check_text, require_reason
from recycling.models import Verdict, VerdictPhoto
from recycling.records.actors import Actor
from shared.errors import Collected, Unknown


@deed("moderate")
def verdict_decide(actor: Actor, verdict_id: int, counts: bool, reason: str = "") -> str:
    """Count a verdict, or set it aside with a reason; return the spool's code.

    A decision can be changed; each is kept with who took it.

    Raises
    ------
    Unknown
        When there is no such verdict in this workshop.
    Refused
        When it is set aside without a reason.
    """
    verdict = _verdict(actor, verdict_id)
    if counts:
        reason, found = reason.strip(), Collected()
        check_text(reason, "/reason", found)
        found.refuse()
    else:
        reason = require_reason(reason)
    before = verdict.state
    verdict.state = Verdict.COUNTED if counts else Verdict.SET_ASIDE
    verdict.decided_at, verdict.decided_by = timezone.now(), actor.reference
    verdict.decision_reason = reason
    verdict.save(update_fields=["state", "decided_at", "decided_by", "decision_reason"])
    subject = f"verdict {verdict.pk} of {verdict.lot.code}"
    keep_change(actor, subject, "decide", {"state": before}, {"state": verdict.state}, reason)
    return verdict.lot.code


@deed("moderate")
def photo_remove(actor: Actor, verdict_id: int, reason: str) -> str:
    """Remove the photo of a verdict for good, with a reason; return the spool's code.

    Raises
    ------
    Unknown
        When there is no such photo in this workshop.
    Refused
        When no reason is given.
    """
    reason, verdict = require_reason(reason), _verdict(actor, verdict_id)
    if not VerdictPhoto.objects.filter(verdict=verdict).delete()[0]:
        raise Unknown.because("photo-unknown", "There is no such photo in this workshop.")
    subject = f"verdict {verdict.pk} of {verdict.lot.code}"
    keep_change(actor, subject, "remove photo", {}, {}, reason)
    return verdict.lot.code


def _verdict(actor: Actor, verdict_id: int) -> Verdict:
    verdict = (
        Verdict.objects.select_related("lot")
        .filter(pk=verdict_id, lot__workshop_id=actor.workshop_id)
        .first()
    )
    if verdict is None:
        raise Unknown.because("verdict-unknown", "There is no such verdict in this workshop.")
    return verdict
