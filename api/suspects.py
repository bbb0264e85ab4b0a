"""Which candidate spoilt the spools: the ranking, what is in one, what is affected, findings."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.urls import path

from api.protocol.requests import Door, lists, records, shows
from recycling.calc.suspects.priors import SuspectPriors
from recycling.queries.suspects.affected import affected
from recycling.queries.suspects.findings import finding_page, findings
from recycling.queries.suspects.ranking import suspects
from recycling.queries.suspects.spool_contents import spool_contents
from recycling.records.actors import Actor
from recycling.records.suspects.affected import Affected
from recycling.records.suspects.findings import FindingEntry, FindingRecord, FindingRow
from recycling.records.suspects.ranking import SuspectQuestion, Suspects
from recycling.records.suspects.spool_contents import SpoolContents
from recycling.services.suspects import finding_keep
from shared.errors import Collected, Refused
from shared.said import say

LINES = 50


@dataclass(frozen=True)
class PriorsBody:
    """What is believed before any verdict; each has this project's own default.

    Attributes
    ----------
    cause_probability : float
        Chance that one of the candidates spoils spools; above 0, below 1.
    background_alpha, background_beta : float
        Beta distribution of the chance that a spool is bad for another reason; at least 0.5.
    spoil_alpha, spoil_beta : float
        Beta distribution of the chance that the cause spoils a fully exposed spool; at least 0.5.
    full_share : float
        Share from which a spool counts as fully exposed; above 0, at most 1.
    curve_power : float
        Shape of the exposure curve below that; 1 is in proportion.
    exposed_share : float
        Share from which a spool counts as exposed in the plain tables; above 0, at most 1.
    lead_posterior : float
        Posterior from which the first line is called a suspect; above 0, below 1.
    least_judged, least_bad : int
        Fewer judged spools, or fewer bad ones that hold the first line, are too little evidence.
    """

    cause_probability: float = 0.4
    background_alpha: float = 0.5
    background_beta: float = 4.5
    spoil_alpha: float = 2.0
    spoil_beta: float = 1.0
    full_share: float = 0.20
    curve_power: float = 1.0
    exposed_share: float = 0.01
    lead_posterior: float = 0.5
    least_judged: int = 5
    least_bad: int = 2


@dataclass(frozen=True)
class SuspectsBody:
    """Which judged spools to look at, which candidates, and what is believed beforehand.

    Attributes
    ----------
    defects : tuple of str
        Only these defects count as bad; spools bad for another reason are left out. Empty for any.
    polymer : str
        Only spools of this polymer.
    spools : tuple of str
        Only these spools, by code.
    from_, to_ : datetime or None
        Only spools made from the first on and before the second, with offset.
    kinds : tuple of str
        Kinds of candidates: "origin", "lot", "run", "machine", "heel", "open", "limit", "setting",
        "deviation";
        empty for all.
    priors : PriorsBody
        What is believed before any verdict.
    """

    defects: tuple[str, ...] = ()
    polymer: str = ""
    spools: tuple[str, ...] = ()
    from_: datetime | None = None
    to_: datetime | None = None
    kinds: tuple[str, ...] = ()
    priors: PriorsBody = field(default_factory=PriorsBody)

    @property
    def question(self) -> SuspectQuestion:
        """The same as the query asks it."""
        return SuspectQuestion(
            self.defects, self.polymer, self.spools, self.from_, self.to_, self.kinds
        )


@dataclass(frozen=True)
class FindingBody(SuspectsBody):
    """A search that is kept as it stands now, with its data.

    Attributes
    ----------
    title : str
        What it is about.
    note : str
        What else should be known of it.
    """

    title: str = field(kw_only=True)
    note: str = ""


def priors_of(body: PriorsBody) -> SuspectPriors:
    """Read the assumptions, or say which is out of range."""
    found = Collected()
    given = vars(body)
    try:
        return SuspectPriors(**given)
    except ValueError as error:
        name = str(error).partition(" ")[0]
        found.add("prior-out-of-range", say("{error}.", error=error), f"/priors/{name}")
        raise Refused(*found.problems) from error


RENAMED = {"/start": "/from", "/end": "/to"}


class SuspectsApi(Door):
    needs = {"POST": "read"}

    @records(SuspectsBody, Suspects, status=200, renamed=RENAMED)
    def post(self, actor: Actor, body: SuspectsBody) -> Suspects:
        """Weigh every candidate over the judged spools: suspicion with its grounds, no proof."""
        return suspects(actor, body.question, priors_of(body.priors), LINES)


class FindingsApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(FindingRow)
    def get(self, actor: Actor) -> list[FindingRow]:
        """List the newest findings that were kept."""
        return findings(actor)

    @records(FindingBody, FindingRow, renamed=RENAMED)
    def post(self, actor: Actor, body: FindingBody) -> FindingRow:
        """Keep a search, frozen with the verdicts and shares that it rests on."""
        entry = FindingEntry(body.title, body.question, priors_of(body.priors), body.note)
        return finding_keep(actor, entry)


class FindingApi(Door):
    needs = {"GET": "read"}

    @shows(FindingRecord, rows_of=lambda kept: kept.suspects.rows)
    def get(self, actor: Actor, number: int) -> FindingRecord:
        """Show a finding as it was kept; as CSV, its lines."""
        return finding_page(actor, number)


class LotContentsApi(Door):
    needs = {"GET": "read"}

    @shows(SpoolContents, rows_of=lambda spool: spool.parts)
    def get(self, actor: Actor, code: str) -> SpoolContents:
        """Show what is in a spool and every deviation on its way; as CSV, its parts."""
        return spool_contents(actor, code)


class LotAffectedApi(Door):
    needs = {"GET": "read"}

    @shows(Affected, rows_of=lambda found: found.spools)
    def get(self, actor: Actor, code: str) -> Affected:
        """List the spools and stock that a lot reached; as CSV, the spools."""
        return affected(actor, code)


class OriginAffectedApi(Door):
    needs = {"GET": "read"}

    @shows(Affected, rows_of=lambda found: found.spools)
    def get(self, actor: Actor, code: str) -> Affected:
        """List the spools and stock that a collection reached; as CSV, the spools."""
        return affected(actor, code)


class RunAffectedApi(Door):
    needs = {"GET": "read"}

    @shows(Affected, rows_of=lambda found: found.spools)
    def get(self, actor: Actor, code: str) -> Affected:
        """List the spools and stock that a run reached; as CSV, the spools."""
        return affected(actor, code)


urlpatterns = [
    path("lots/<str:code>/contents/", LotContentsApi.as_view()),
    path("lots/<str:code>/affected/", LotAffectedApi.as_view()),
    path("collections/<str:code>/affected/", OriginAffectedApi.as_view()),
    path("runs/<str:code>/affected/", RunAffectedApi.as_view()),
    path("suspects/", SuspectsApi.as_view()),
    path("findings/", FindingsApi.as_view()),
    path("findings/<int:number>/", FindingApi.as_view()),
]
