"""A season of the invented workshop, week by week, up to yesterday."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.db import transaction

from recycling.calc.lots.feed_order import FEED_ORDER, WELL_MIXED
from recycling.demo import afterwards, bottles, cast, melt
from recycling.demo.bench import KG, Bench
from recycling.demo.measured import Measuring
from recycling.demo.power import Power
from recycling.demo.second import open_second
from recycling.ledger.sql import measure_tables
from recycling.queries.people.workshops import actor_called, workshop_ids
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.services.people.workshops import member_add, workshop_open
from recycling.services.setup import register as setting_up

SEED = 20
WEEKS = 14
BLAMED_WEEK, STRIPPED_WEEK = 6, 9
PLA_WEEKS = (4, 11)
IN_ORDER_WEEKS = (2, 11)
"""Weeks whose Saturday's origins are computed in feed order."""
Progress = Callable[[list[date]], Iterable[date]]


def make_season(now: datetime, progress: Progress = iter) -> bool:
    """Make the workshops and their season, all or nothing; False when they are there already."""
    if cast.WORKSHOP.slug in workshop_ids():
        return False
    with transaction.atomic():
        season = Season(now)
        for day in progress(season.days):
            season.live(day)
        season.end()
        open_second(now)
    measure_tables()
    return True


class Season:
    """The weeks of the workshop; each weekday has its work."""

    def __init__(self, now: datetime) -> None:
        zone = ZoneInfo(cast.WORKSHOP.zone)
        self.now, self.yesterday = now, now.astimezone(zone).date() - timedelta(days=1)
        first = self.yesterday - timedelta(weeks=WEEKS)
        self.first = first - timedelta(days=first.weekday())
        count = (self.yesterday - self.first).days + 1
        self.days = [self.first + timedelta(days=place) for place in range(count)]
        self.bench = _open(self.first)
        self.power, self.measuring = Power(self.bench), Measuring(self.bench)
        self.blamed = ""
        self.low_flake = ""
        self.sources = self._sources()

    def _sources(self) -> list[str]:
        """Say who brings something, visit after visit; the bin is emptied now and then."""
        names = [source.name for source in cast.SOURCES]
        visits: list[str] = []
        while len(visits) < 4 * (WEEKS + 2):
            visits += self.bench.rng.sample(names, len(names))
        return visits

    def live(self, day: date) -> None:
        """Do the work of one day."""
        self.bench.today = day
        self.bench.worked.clear()
        week, weekday = divmod((day - self.first).days, 7)
        if week == 0 and weekday == 0:
            self._open_stock()
        works = (self._monday, self._tuesday, self._wednesday, self._thursday, self._friday)
        if weekday < 5:
            works[weekday](week)
        elif weekday == 5:
            self._saturday(week)
        self.power.log_day()
        self.measuring.measure_day()

    def _open_stock(self) -> None:
        bench = self.bench
        bench.receive(
            OriginEntry(
                "opening",
                bench.at(8),
                (
                    BagEntry(bench.read_mg(2.38 * KG, cast.BENCH), "flake", "PET"),
                    BagEntry(63_000, "heel", "PET", machine=cast.EXTRUDER),
                ),
                note="Found when the book was started.",
            ),
            bench.lead,
        )
        self._buy("purge compound", "purge", [5.0], "Invoice 1")

    def _buy(self, form: str, polymer: str, bags_kg: list[float], document: str) -> None:
        bags = tuple(
            BagEntry(self.bench.read_mg(mass * KG, cast.PLATFORM), form, polymer)
            for mass in bags_kg
        )
        entry = OriginEntry(
            "purchase", self.bench.at(8.5), bags, supplier="Dealer in Farglimmer", document=document
        )
        self.bench.receive(entry, self.bench.lead)

    def _collect(self, hour: float) -> None:
        rng = self.bench.rng
        bags = [max(0.6, rng.gauss(1.5, 0.5)) for _ in range(rng.choice([1, 1, 2, 2, 3]))]
        bottles.collect(self.bench, self.sources.pop(0), hour, bags)

    def _monday(self, week: int) -> None:
        if coils := [one for one in self.bench.of("filament") if one.code.startswith("L")]:
            melt.wind(self.bench, coils, 7.6)
        self._collect(9.2)
        if week == BLAMED_WEEK:
            self.blamed = bottles.collect(self.bench, cast.BIN, 11.5, [3.24, 2.58]).code
        elif week % 2:
            self._collect(15.4)
        if week == STRIPPED_WEEK:
            self.bench.set_aside.add(self.blamed)
        if week in PLA_WEEKS:
            self._buy("pellets", "PLA", [2.5, 2.5], f"Invoice {2 + week}")

    def _tuesday(self, week: int) -> None:
        self._collect(10.5)
        waiting = self.bench.of("bottles")
        by_origin: dict[frozenset[str], list] = {}
        for item in waiting:
            by_origin.setdefault(item.origins, []).append(item)
        for place, items in enumerate(by_origin.values()):
            done = bottles.sort(self.bench, items, 11.5 + 1.6 * place)
            if week == 2 and place == 0:
                afterwards.correct_loss(
                    self.bench, done.code, "residue", 34_000, "Read with the beaker on the scale."
                )

    def _wednesday(self, week: int) -> None:
        bench = self.bench
        clean = bench.of("clean bottles")
        if week % 2 == 0 and len(clean) > 1:
            bottles.wash(bench, clean[-1:], 9)
        if week == 5 and clean:
            bottles.cut(bench, clean[:1], 11.2)
        if week % 3 == 0:
            self._collect(10)
        scrap = bench.of("start-up scrap", "offcuts") if week % 4 == 3 else []
        again = bench.of("oversize") + scrap
        pieces = bench.of("cut pieces", "clean bottles")
        draws = bench.whole(again) + bench.some(pieces, bench.about(9.4, 0.1) * KG, cast.BENCH)
        low = 90_000 if week == 3 else 0
        done = bottles.shred(bench, draws, 13.5, low, passes=2 if week % 4 == 3 else 1)
        self.low_flake = done.lots[0].code if low else self.low_flake

    def _thursday(self, week: int) -> None:
        bench = self.bench
        if week == STRIPPED_WEEK:
            melt.strip_down(bench, 9)
        if week % 2 and (flake := bench.of("flake")):
            bottles.screen(bench, flake[-1:], 9.5)
        self._dry(10.2, 3.9)
        if week == 3:
            afterwards.correct_output(
                bench, self.low_flake, 90_000, "Two digits swapped when it was typed."
            )
        if week == 2:
            afterwards.hold_and_release(bench, bench.of("dried flake")[-1].code)

    def _dry(self, hour: float, mass_kg: float, reserve_kg: float = 2.4) -> None:
        bench, flake = self.bench, self.bench.ready(hour, "flake")
        spare = sum(item.mass_mg for item in flake) - reserve_kg * KG
        wanted = min(bench.about(mass_kg, 0.08) * KG, spare)
        if wanted < 0.8 * KG:
            return
        draws = bench.some(flake, wanted, cast.BENCH)
        done = melt.dry(bench, draws, hour, "PET")
        code = done.lots[0].code
        afterwards.noted(bench, code, "sealed", bench.at(hour + 6.2), "drum with dry bags")

    def _friday(self, week: int) -> None:
        bench = self.bench
        self._dry(7.5, 3.8)
        self._extrude(week, bench.ready(9, "dried flake")[:1], 9.3)
        afterwards.give_spools(bench, 16.5) if week > 1 else None
        if week == STRIPPED_WEEK:
            afterwards.count_stock(bench, 18)
        if week % 4 == 3:
            afterwards.clear_out(bench, 17)
        if week == 6:
            afterwards.void_discard(bench, 18)

    def _saturday(self, week: int) -> None:
        bench = self.bench
        if week in PLA_WEEKS:
            self._pla_series(week)
        elif flake := bench.ready(8, "dried flake"):
            self._extrude(week, flake[:2], 8.6, coil=week % 4 == 1, last=week % 3 == 2)
        if week > 2:
            afterwards.give_spools(bench, 16)

    def _extrude(
        self, week: int, flake: list, hour: float, coil: bool = False, last: bool = False
    ) -> None:
        if not flake:
            return
        bench, foreign = self.bench, [h for h in melt.heel_of(self.bench) if h.polymer != "PET"]
        afterwards.noted(bench, flake[0].code, "opened", bench.at(hour - 0.4))
        purged: tuple = ()
        if last or any(heel.polymer == "PLA" for heel in foreign):
            purged = self._purge(230_000 if last else 260_000)
        drawn, model = bench.whole(flake), self._model(week)
        melt.extrude(bench, drawn, hour, purged=purged, shut_with=last, coil=coil, model=model)
        if week % 3 == 0 and bench.spools:
            afterwards.noted(bench, bench.spools[-1], "sealed", bench.at(hour + 6), "shelf 2")

    def _purge(self, mass_mg: float) -> tuple:
        bench = self.bench
        compound = bench.of("purge compound", polymer="purge")
        return bench.some(compound, bench.about(mass_mg, 0.06), cast.BENCH)

    def _pla_series(self, week: int) -> None:
        bench = self.bench
        pellets = bench.of("pellets", polymer="PLA")
        dried = melt.dry(bench, bench.whole(pellets[:1]), 6.2, "PLA").lots[0]
        ready = (bench.shelf[dried.code],)
        purged = self._purge(310_000)
        self.measuring.change_over("PLA", purged)
        melt.extrude(bench, bench.whole(ready), 11.5, "PLA", purged=purged, model=self._model(week))

    def _model(self, week: int) -> str:
        """Say how the origins of what today's extrusion gives are computed."""
        in_order = week in IN_ORDER_WEEKS and self.bench.today.weekday() == 5
        return FEED_ORDER if in_order else WELL_MIXED

    def end(self) -> None:
        """Judge spools, hold what was found wrong, and leave a run going on."""
        bench = self.bench
        bench.today = self.yesterday
        if not bench.of("dried flake"):
            self._dry(8, 2.3, 0)
        afterwards.judge(bench, self.blamed)
        afterwards.hold_all_from(bench, self.blamed)
        afterwards.go_on(bench, self.now)


def _open(today: date) -> Bench:
    """Open the workshop and set up what entries refer to."""
    lead = workshop_open(cast.WORKSHOP)
    for member in cast.MEMBERS:
        member_add(lead, member)
    for source in cast.SOURCES:
        setting_up.source_add(lead, source)
    for programme in cast.PROGRAMMES.values():
        setting_up.programme_add(lead, programme)
    for machine in cast.MACHINES:
        setting_up.machine_add(lead, machine)
    for scale in cast.SCALES:
        setting_up.scale_add(lead, scale)
    for container in cast.CONTAINERS:
        setting_up.container_add(lead, container)
    operator, viewer = (actor_called(lead.slug, member.name) for member in cast.MEMBERS)
    assert operator and viewer
    return Bench(lead, operator, viewer, Random(SEED), today)
