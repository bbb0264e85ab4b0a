"""What stands on the labels of lots: what each is, how much, since when, and what to beware of."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.db.models import Q
from django.utils import timezone
from django.utils.formats import date_format, number_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from recycling.calc.quality.judging import Answer
from recycling.models import Lot, LotEvent, PublicLink, RunCheck
from recycling.queries.people.tokens import digest_of_link, token_for
from recycling.queries.quality.states import Judges, noted_of, shown_state
from recycling.queries.setup.practice import practice_rows, waterless
from recycling.records.actors import Actor
from recycling.records.labels.labels import Label, LabelLot
from recycling.records.setup.practice import PracticeRow
from shared.codes import label_path, read_code, read_scan
from shared.errors import Unknown
from shared.said import say
from shared.units import show_mass

NO_BREAK = "\N{NO-BREAK SPACE}"
DRIED = "dried flake"


@dataclass(frozen=True)
class _Around:
    """What labels of several lots are made from besides the lots."""

    actor: Actor
    zone: zoneinfo.ZoneInfo
    tokens: dict[int, str]
    sealed: dict[int, bool]
    states: dict[int, tuple[str, datetime | None]]
    open_limit_h: float
    waterless: frozenset[str]

    def day(self, moment: datetime) -> str:
        return _whole(date_format(moment.astimezone(self.zone), "SHORT_DATE_FORMAT"))

    def time(self, moment: datetime) -> str:
        return date_format(moment.astimezone(self.zone), "TIME_FORMAT")


def labels_of(actor: Actor, codes: Sequence[str]) -> list[LabelLot]:
    """Give lots with their labels, in the order asked; a run or collection stands for its lots.

    Raises
    ------
    Unknown
        When a code names nothing in this workshop, or nothing that has a label.
    """
    wanted = list(dict.fromkeys(_code(actor, code) for code in codes))
    found = list(
        Lot.objects.select_related("account", "made_by", "origin", "spool")
        .filter(workshop_id=actor.workshop_id)
        .filter(Q(code__in=wanted) | Q(made_by__code__in=wanted) | Q(origin__code__in=wanted))
        .exclude(form="heel", made_by__code__in=wanted)
        .order_by("number")
    )
    lots = {lot.code: lot for code in wanted for lot in _named(found, code)}
    around = _around(actor, lots.values())
    return [_label_lot(lot, around) for lot in lots.values()]


def _code(actor: Actor, typed: str) -> str:
    scanned = read_scan(typed)
    own = scanned is not None and scanned.slug in ("", actor.slug.lower())
    return scanned.code if scanned and own else read_code(typed) or typed.strip()


def _named(lots: Iterable[Lot], code: str) -> list[Lot]:
    named = [
        lot
        for lot in lots
        if code in (lot.code, lot.made_by.code) or (lot.origin and lot.origin.code == code)
    ]
    if not named:
        said = say("There is no lot “{code}” in this workshop.", code=code)
        raise Unknown.because("lot-unknown", said, "/lots")
    return named


def _around(actor: Actor, lots: Iterable[Lot]) -> _Around:
    spools = [lot.pk for lot in lots if hasattr(lot, "spool")]
    dried = {lot.pk: lot.made_by_id for lot in lots if lot.form == DRIED}
    practice = practice_rows(actor.workshop_id) if spools or dried else {}
    return _Around(
        actor,
        zoneinfo.ZoneInfo(actor.zone),
        _tokens(spools) if spools else {},
        _sealed(dried) if dried else {},
        _states(actor.workshop_id, spools, practice) if spools else {},
        practice["open_limit_h"].value if dried else 0.0,
        waterless(actor.workshop_id) if dried else frozenset(),
    )


def _states(
    workshop_id: int, lot_ids: list[int], practice: Mapping[str, PracticeRow]
) -> dict[int, tuple[str, datetime | None]]:
    judges, now = Judges(workshop_id, practice), timezone.now()
    noted = noted_of(workshop_id, lot_ids)
    return {lot_id: shown_state(judges.state(one, now)) for lot_id, one in noted.items()}


def _tokens(lot_ids: list[int]) -> dict[int, str]:
    links = PublicLink.objects.filter(
        lot_id__in=lot_ids, revoked_at=None, expires_at__gt=timezone.now()
    )
    made = {link.lot_id: (token_for(link.seed), link.digest) for link in links}
    return {pk: token for pk, (token, digest) in made.items() if digest_of_link(token) == digest}


def _sealed(run_of_lot: dict[int, int]) -> dict[int, bool]:
    """Say of dried lots whether they were sealed last; as noted of the lot, else of its run."""
    kept = dict(
        RunCheck.objects.filter(run_id__in=run_of_lot.values(), key="kept")
        .order_by("pk")
        .values_list("run_id", "value")
    )
    found = {pk: kept.get(run_id) == "sealed" for pk, run_id in run_of_lot.items()}
    events = LotEvent.objects.filter(lot_id__in=run_of_lot, kind__in=("sealed", "opened"))
    rows = events.order_by("happened_at", "pk").values_list("lot_id", "kind")
    return found | {lot_id: kind == "sealed" for lot_id, kind in rows}


def _label_lot(lot: Lot, around: _Around) -> LabelLot:
    spool = hasattr(lot, "spool")
    token = around.tokens.get(lot.pk, "")
    what = _("Spool of filament") if spool else capfirst(_(lot.form))
    label = Label(
        code=lot.code,
        shape="spool" if spool else lot.form.replace(" ", "_").replace("-", "_"),
        square=square_text(around.actor.slug, lot.code, token),
        what=what,
        lines=tuple(line for line in _lines(lot, around) if line),
        missing=_("□ stands for a sign that this paper’s font lacks."),
        caution=_("Not for food contact, mouthing toys or medical use.") if spool else "",
    )
    return LabelLot(lot.code, what, bool(token), spool, label)


def square_text(slug: str, code: str, token: str = "") -> str:
    """Write what a label's square holds: an address, or the bare code where none is set up."""
    if not settings.PUBLIC_ADDRESS:
        return code
    return settings.PUBLIC_ADDRESS.upper() + label_path(slug, code, token)


def _lines(lot: Lot, around: _Around) -> list[str]:
    lines = [", ".join(part for part in (lot.polymer, lot.colour) if part)]
    if hasattr(lot, "spool"):
        lines += [_thread(lot), _judged(lot, around)]
    lines.append(_mass(lot, around))
    ended_at, run = lot.made_by.ended_at, lot.made_by.code
    if lot.origin:
        received = around.day(lot.origin.happened_at)
        lines.append(_("Received {day} · {code}").format(day=received, code=lot.origin.code))
    elif ended_at is None:
        lines.append(_("From run {run}, still open").format(run=run))
    elif lot.form == DRIED and lot.polymer not in around.waterless:
        lines += _dried(lot, ended_at, around)
    else:
        lines.append(_("Made {day} · {code}").format(day=around.day(ended_at), code=run))
    if hasattr(lot, "spool"):
        lines.append(around.actor.workshop)
    return lines


def _judged(lot: Lot, around: _Around) -> str:
    """Say that it is within limits or second choice; nothing where that is not decided."""
    state, measured_at = around.states.get(lot.pk, ("", None))
    if state == Answer.FAILED:
        return _("Second choice")
    if state != Answer.PASSED:
        return ""
    if measured_at is None:
        return _("Within limits")
    return _("Within limits, measured {day}").format(day=around.day(measured_at))


def _thread(lot: Lot) -> str:
    diameter = number_format(f"{lot.spool.diameter_mm:g}")
    if lot.spool.tolerance_mm is not None:
        diameter += f"{NO_BREAK}±{NO_BREAK}{number_format(f'{lot.spool.tolerance_mm:g}')}"
    return f"⌀{NO_BREAK}{diameter}{NO_BREAK}mm"


def _mass(lot: Lot, around: _Around) -> str:
    net = _("Net {mass}").format(mass=_whole(_printed(lot.made_mg)))
    left = lot.account.balance_mg
    if left == lot.made_mg:
        return net
    day = around.day(timezone.now())
    rest = _("{mass} left on {day}").format(mass=_whole(_printed(left)), day=day)
    return f"{net}; {rest}"


def _printed(mass_mg: int) -> str:
    """Write a mass to the gram from 100 g on, to a hundredth of a gram below."""
    rounded = round(mass_mg / 1000) * 1000 if mass_mg >= 100_000 else round(mass_mg / 10) * 10
    return show_mass(rounded)


def _dried(lot: Lot, ended_at: datetime, around: _Around) -> list[str]:
    done = _("Dried until {time}, {day}").format(
        time=around.time(ended_at), day=around.day(ended_at)
    )
    minutes = _whole(_("{minutes} min").format(minutes=round(around.open_limit_h * 60)))
    if around.sealed.get(lot.pk):
        return [
            _("{done}, sealed").format(done=done),
            _("Use within {time} of opening. Opened at").format(time=minutes) + " ________",
        ]
    return [
        _("{done}, not sealed").format(done=done),
        _("Use within {time} of drying, or dry again.").format(time=minutes),
    ]


def _whole(text: str) -> str:
    """Keep a figure and its unit, or a date, on one line."""
    return text.replace(" ", NO_BREAK)
