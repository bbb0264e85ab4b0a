"""Energy of the invented workshop: plates, logged times, a meter, a price and a carbon factor."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from random import Random

from recycling.demo.bench import Bench
from recycling.demo.cast import DRYER, EXTRUDER, SHREDDER, TUB, WINDER
from recycling.queries.energy.machines import parts_of
from recycling.queries.setup.register import machines
from recycling.records.energy.entries import (
    FactorEntry,
    PartEntry,
    PhaseEntry,
    ReadingEntry,
    ReadingSent,
    ReadingsEntry,
    TariffEntry,
    TimeEntry,
)
from recycling.records.energy.machines import PartRow
from recycling.records.runs.entries import RunEntry
from recycling.services.energy.notes import part_add, part_time_add, phase_add, reading_add
from recycling.services.energy.prices import factor_add, tariff_add
from recycling.services.energy.readings import readings_keep

SEED = 21
PLATE, INVENTED = "plate, invented for the demo", "Invented for the demo; no real figure"
PARTS = {
    TUB: (("water heater", "heater", 1_500, 55), ("stirrer", "motor", 90, 100)),
    SHREDDER: (("shredder motor", "motor", 2_200, 38),),
    DRYER: (("cabinet heater", "heater", 1_700, 58), ("circulation fan", "fan", 65, 100)),
    EXTRUDER: (
        ("zone heaters", "heater", 1_150, 46),
        ("screw motor", "motor", 370, 62),
        ("cooling fans", "fan", 45, 80),
    ),
    WINDER: (("winder drive", "motor", 60, 50),),
}
"""Parts of each machine: name, kind, rated power in W and duty in percent; invented."""
FORGOTTEN = {TUB: 0.3, SHREDDER: 0.25, DRYER: 0.12, EXTRUDER: 0.12, WINDER: 0.5}
"""Share of the runs whose times nobody wrote down."""
WARM_UP, COOLING = timedelta(minutes=38), timedelta(minutes=12)
METER_DAYS = 42
"""Days into the season when the extruder got its meter."""
SENT_EVERY, LOOK = timedelta(minutes=20), timedelta(minutes=4)
HOUR, SATURDAY = timedelta(hours=1), 5


class Power:
    """What the people of the demo write down about energy while they work."""

    def __init__(self, bench: Bench) -> None:
        self.bench, self.rng = bench, Random(SEED)
        self.parts: dict[str, tuple[PartRow, ...]] = {}
        self.machines = {row.name: row.id for row in machines(bench.lead)}
        self.fitted = bench.today + timedelta(days=METER_DAYS)
        self.counter_kwh = 0.0
        for name, parts in PARTS.items():
            for part, kind, rated_w, duty_percent in parts:
                entry = PartEntry(
                    self.machines[name], part, kind, rated_w, duty_percent, source=PLATE
                )
                part_add(bench.lead, entry)
            self.parts[name] = parts_of(self.machines[name])
        enter_prices(bench, bench.today)

    def log_day(self) -> None:
        """Write down what drew energy in the runs of today; a barrel is brushed unpowered."""
        busy: dict[str, datetime] = {}
        for entry, _ in sorted(self.bench.worked, key=lambda pair: pair[0].started_at):
            free = busy.get(entry.machine)
            cold = entry.machine == EXTRUDER and not entry.settings
            if entry.machine in self.parts and not cold and (not free or free < entry.started_at):
                busy[entry.machine] = self._log(entry, free)

    def _log(self, entry: RunEntry, free: datetime | None) -> datetime:
        """Log a run; say until when its machine was on."""
        assert entry.ended_at is not None
        hot = entry.machine == EXTRUDER
        on = entry.started_at - (WARM_UP if hot and free is None else timedelta(0))
        off = entry.ended_at + (COOLING if hot else timedelta(0))
        if hot and self.bench.today >= self.fitted:
            self._read_meter(entry, on, off)
        if self.rng.random() < FORGOTTEN[entry.machine]:
            return off
        for part in self.parts[entry.machine]:
            heats = hot and part.kind == "heater"
            span = (on, off) if heats else (entry.started_at, entry.ended_at)
            part_time_add(self.bench.operator, TimeEntry(part.part, *span))
        if hot and on < entry.started_at:
            warm_up = PhaseEntry(self.machines[EXTRUDER], "warm-up", on, entry.started_at)
            phase_add(self.bench.operator, warm_up)
        return off

    def _read_meter(self, entry: RunEntry, on: datetime, off: datetime) -> None:
        """Read the meter from switching on to switching off, in steps or as somebody passes."""
        assert entry.ended_at is not None
        moments = [on]
        if self.bench.today.weekday() == SATURDAY:
            late = [timedelta(minutes=self.rng.randrange(2, 9)) for _ in range(2)]
            moments += [entry.started_at + late[0], entry.ended_at - late[1]]
        else:
            moments += [on + step * SENT_EVERY for step in range(1, (off - on) // SENT_EVERY + 1)]
        since, sent = on, []
        for at in (*moments, off + LOOK):
            self.counter_kwh += self._drawn_kwh(entry, since, at)
            sent.append(ReadingSent(at, round(self.counter_kwh, 2)))
            since = at
        self._keep(sent)

    def _keep(self, sent: list[ReadingSent]) -> None:
        """Keep readings: on Saturdays read off by hand, else as the meter sent them."""
        if self.bench.today.weekday() != SATURDAY:
            entry = ReadingsEntry(EXTRUDER, "counter", tuple(sent))
            readings_keep(self.bench.operator, entry)
            return
        for one in sent:
            read = ReadingEntry(self.machines[EXTRUDER], one.reading, one.at)
            reading_add(self.bench.operator, read)

    def _drawn_kwh(self, entry: RunEntry, since: datetime, until: datetime) -> float:
        """Say what the extruder draws in a time, somewhat off from what its plates say."""
        assert entry.ended_at is not None
        worked = min(until, entry.ended_at) - max(since, entry.started_at)
        inside = max(worked, timedelta(0)) / HOUR
        heated = (until - since) / HOUR
        drawn_wh = 0.0
        for part in self.parts[EXTRUDER]:
            hours = heated if part.kind == "heater" else inside
            drawn_wh += part.rated_w * part.duty * hours
        return drawn_wh / 1000 * max(0.5, self.rng.gauss(1.06, 0.05))


def enter_prices(bench: Bench, day: date) -> None:
    """Enter a price, a later one, and a carbon factor; all of them invented."""
    for price, start in ((0.21, day), (0.24, day + timedelta(days=60))):
        tariff_add(bench.lead, TariffEntry(price, "EUR", INVENTED, start, start))
    factor = FactorEntry(
        230,
        "g/kWh",
        "generation and losses in the grid",
        "the invented town of Farglimmer",
        day.year,
        INVENTED,
        day,
        day,
    )
    factor_add(bench.lead, factor)
