"""What is known of energy: parts of machines, their times, meters, power, files, prices."""

from __future__ import annotations

from django.db import models

from recycling.models.people import Workshop
from recycling.models.setup.register import Machine
from recycling.records.energy.entries import FELL_BECAUSE


class MachinePart(models.Model):
    """A heater, motor, fan or pump; ``duty`` is the share of its logged time that it draws."""

    KINDS = ("heater", "motor", "fan", "pump", "other")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="parts")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=6, choices=[(kind, kind) for kind in KINDS])
    rated_w = models.FloatField()
    duty = models.FloatField(default=1.0)
    source = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["machine", "name"], name="one_part_name"),
            models.CheckConstraint(condition=models.Q(rated_w__gt=0), name="part_rated_positive"),
            models.CheckConstraint(
                condition=models.Q(duty__gt=0, duty__lte=1), name="part_duty_is_a_share"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PartTime(models.Model):
    """Time in which a part was on; without an end it is on now. Taken back, it stays readable."""

    part = models.ForeignKey(MachinePart, models.CASCADE, related_name="times")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)
    taken_back_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["part"],
                name="one_time_going_on",
                condition=models.Q(ended_at=None, taken_back_at=None),
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at=None) | models.Q(ended_at__gt=models.F("started_at")),
                name="part_time_ends_after_start",
            ),
        ]
        indexes = [models.Index(fields=["part", "started_at"], name="part_time_start")]

    def __str__(self) -> str:
        return f"{self.part_id} on from {self.started_at}"


class MachinePhase(models.Model):
    """Time of a machine outside its runs that has a name: warm-up, purge, standby."""

    KINDS = ("warm-up", "purge", "standby")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="phases")
    kind = models.CharField(max_length=8, choices=[(kind, kind) for kind in KINDS])
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)
    taken_back_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine"],
                name="one_phase_going_on",
                condition=models.Q(ended_at=None, taken_back_at=None),
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at=None) | models.Q(ended_at__gt=models.F("started_at")),
                name="phase_ends_after_start",
            ),
        ]
        indexes = [models.Index(fields=["machine", "started_at"], name="phase_start")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.machine_id}"


class MeterReading(models.Model):
    """What a machine's energy meter showed; ``is_reset`` is the first that counts from zero.

    Where it shows less than before, ``fell_because`` says why; empty where nobody said.
    """

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="readings")
    read_at = models.DateTimeField()
    reading_kwh = models.FloatField()
    is_reset = models.BooleanField(default=False)
    fell_because = models.CharField(
        max_length=11, blank=True, default="", choices=[(one, one) for one in FELL_BECAUSE]
    )
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)
    taken_back_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "read_at"],
                name="one_reading_at_a_time",
                condition=models.Q(taken_back_at=None),
            ),
            models.CheckConstraint(
                condition=models.Q(reading_kwh__gte=0), name="reading_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reading_kwh} kWh at {self.read_at}"


class EnergyMeter(models.Model):
    """How sure a machine's energy meter is; never edited, the newest counts."""

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="meters")
    step_kwh = models.FloatField(null=True)
    class_percent = models.FloatField(null=True)
    source = models.CharField(max_length=200)
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(step_kwh=None) | models.Q(step_kwh__gt=0),
                name="meter_step_positive",
            ),
            models.CheckConstraint(
                condition=models.Q(class_percent=None) | models.Q(class_percent__gt=0),
                name="meter_class_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"meter of {self.machine_id}"


class PowerBlock(models.Model):
    """Samples of power that programs sent, in time order; a block never overlaps another.

    The three columns of ``points`` are little-endian arrays of 64-bit numbers, one after another:
    moments in µs, W, and the longest time in s that each sample stands for.
    """

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="power")
    first_us = models.BigIntegerField()
    last_us = models.BigIntegerField()
    count = models.PositiveIntegerField()
    points = models.BinaryField()

    class Meta:
        indexes = [models.Index(fields=["machine", "first_us"], name="power_block_start")]

    def __str__(self) -> str:
        return f"{self.count} samples of {self.machine_id}"


class EnergyFile(models.Model):
    """A file of meter readings or power samples: looked through first, then taken.

    ``state``: being looked through, looked through, being taken, taken, or failed. ``preview`` is
    what a person saw before it was taken.
    """

    LOOKING, LOOKED, TAKING, TAKEN, FAILED = "looking", "looked", "taking", "taken", "failed"
    STATES = (LOOKING, LOOKED, TAKING, TAKEN, FAILED)

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="energy_files")
    machine = models.ForeignKey(Machine, models.CASCADE, related_name="energy_files")
    name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    size_bytes = models.BigIntegerField()
    choices = models.JSONField(default=dict)
    preview = models.JSONField(default=dict)
    state = models.CharField(max_length=7, choices=[(state, state) for state in STATES])
    failure = models.CharField(max_length=500, blank=True, default="")
    kind = models.CharField(max_length=8, blank=True, default="")
    first_us = models.BigIntegerField(null=True)
    last_us = models.BigIntegerField(null=True)
    kwh = models.FloatField(null=True)
    brought_at = models.DateTimeField()
    brought_by = models.UUIDField(null=True)
    taken_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["machine", "digest"], name="one_energy_file")
        ]

    def __str__(self) -> str:
        return self.name


class EnergyChunk(models.Model):
    """Points of a file that follow each other: moments in µs, kWh and covered µs up to each.

    The three columns are little-endian arrays of 64-bit numbers, one after another.
    """

    file = models.ForeignKey(EnergyFile, models.CASCADE, related_name="chunks")
    first_us = models.BigIntegerField()
    last_us = models.BigIntegerField()
    count = models.PositiveIntegerField()
    points = models.BinaryField()

    class Meta:
        indexes = [models.Index(fields=["file", "first_us"], name="chunk_start")]

    def __str__(self) -> str:
        return f"{self.count} points of file {self.file_id}"


class EnergyTariff(models.Model):
    """A price of electricity from a day on, with where it stands; never edited."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="tariffs")
    price_per_kwh = models.FloatField()
    currency = models.CharField(max_length=3)
    source = models.CharField(max_length=200)
    read_date = models.DateField()
    valid_from = models.DateField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{self.price_per_kwh} {self.currency}/kWh from {self.valid_from}"


class EnergyFactor(models.Model):
    """Carbon of a kilowatt-hour from a day on, as its publisher states it; never edited."""

    workshop = models.ForeignKey(Workshop, models.CASCADE, related_name="carbon_factors")
    value = models.FloatField()
    unit = models.CharField(max_length=8)
    scope = models.CharField(max_length=120)
    region = models.CharField(max_length=120)
    year = models.PositiveIntegerField()
    publisher = models.CharField(max_length=200)
    read_date = models.DateField()
    valid_from = models.DateField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{self.value} {self.unit} from {self.valid_from}"
