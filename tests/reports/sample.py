"""A report of invented figures with every kind of thing that a document can hold."""

from __future__ import annotations

from datetime import UTC, date, datetime

from recycling.records.reports.documents import Column, Document, Drawing, Fact, Section, Table
from recycling.records.reports.files import FrozenReport
from recycling.records.reports.question import ReportQuestion

FROZEN_AT = datetime(2026, 4, 2, 9, 30, 15, tzinfo=UTC)

STATEMENT = Table(
    "statement",
    "What became of what was collected",
    (
        Column("line", "Line", "text"),
        Column("role", "Role", "text"),
        Column("mass_mg", "Mass", "mass", how="weighed"),
        Column("of_collected_share", "Of the collected", "share", how="computed"),
    ),
    (
        ("Collected", "input", 412_600_001, 1.0),
        ("Caps and labels", "side", -31_250_000, 0.07573921),
        ("Water", "loss", -2_000_500, 0.00484853),
        ("Waste", "waste", -9_340_000, 0.0226369),
        ("Unaccounted", "unaccounted", 1_499, -0.0000036),
        ("Spooled", "total", 370_011_000, 0.8967789),
    ),
)
FLOWS = Table(
    "flows",
    "Flows between stages",
    (
        Column("from", "From", "text"),
        Column("to", "To", "text"),
        Column("role", "Role", "text"),
        Column("mass_mg", "Mass", "mass"),
    ),
    (
        ("collected", "sorted", "product", 412_600_001),
        ("sorted", "filament", "product", 370_011_000),
        ("sorted", "caps", "side", 31_250_000),
        ("sorted", "waste", "waste", 11_339_001),
    ),
)
MONTHS = Table(
    "months",
    "Month by month",
    (
        Column("month", "Month", "text"),
        Column("begins", "Begins", "day"),
        Column("mass_mg", "Spooled", "mass", how="weighed"),
        Column("energy_kwh", "Energy", "energy", how="measured"),
        Column("specific", "Energy for each kilogram", "number", "kWh/kg", "computed"),
    ),
    (
        ("January", "2026-01-01", 120_000_000, 310.25, 2.585),
        ("February", "2026-02-01", 0, None, None),
        ("March", "2026-03-01", 250_011_000, 601.5, 2.406),
    ),
    ("", None, 370_011_000, 911.75, None),
)


def document(**changed) -> Document:
    """Return the sample document, with some of its fields changed."""
    return Document(
        **{
            "kind": "period",
            "title": "Spring at the tide mill",
            "subtitle": "Hillside drive, whole workshop",
            "workshop": "Tide mill workshop",
            "zone": "Europe/Lisbon",
            "language": "en",
            "start_at": datetime(2026, 1, 1, tzinfo=UTC),
            "end_at": datetime(2026, 4, 1, tzinfo=UTC),
            "sequence": 812,
            "sections": (
                Section(
                    "reader",
                    "In short",
                    ("Nine tenths of what was collected is on spools.", "Line\ntwo & <three>."),
                    (
                        Fact(
                            "collected_mg",
                            "Collected",
                            412_600_001,
                            "mass",
                            how="weighed",
                            uncertainty=12_345.6,
                            note="As it came in, with what did not belong.",
                        ),
                        Fact("yield_share", "Yield", 0.8967789, "share", uncertainty=0.0004),
                        Fact("people", "People reached", 240, "number", "people", "typed"),
                        Fact("checked", "Scales last checked", "2026-03-12", "day"),
                        Fact("custody", "Chain of custody", "mass balance", "text"),
                    ),
                    (STATEMENT, FLOWS),
                    (
                        Drawing(
                            "where",
                            "flows",
                            "Most of it became filament.",
                            "Of 412.6 kg, 370 kg became filament, 31 kg caps, 11 kg waste.",
                            "flows",
                            "from",
                            ("mass_mg",),
                            target="to",
                            style="role",
                        ),
                        Drawing(
                            "steps",
                            "steps",
                            "Caps and labels are the largest part that left.",
                            "From 412.6 kg collected to 370 kg spooled.",
                            "statement",
                            "line",
                            ("mass_mg",),
                            style="role",
                        ),
                    ),
                ),
                Section(
                    "months",
                    "Month by month",
                    tables=(MONTHS,),
                    drawings=(
                        Drawing(
                            "bars",
                            "bars",
                            "March made two thirds.",
                            "Bars of spooled mass for January to March.",
                            "months",
                            "month",
                            ("mass_mg",),
                        ),
                        Drawing(
                            "lines",
                            "lines",
                            "Energy for each kilogram fell.",
                            "A line from 2.585 to 2.406 kWh/kg.",
                            "months",
                            "month",
                            ("specific",),
                        ),
                    ),
                ),
                Section("empty", "Corrections to earlier periods", ("There were none.",)),
            ),
            "definitions": (("yield", "What came out for what went in."), ("flake", "PET, cut.")),
            "signatures": ("Lead of the workshop", "For the funder"),
            **changed,
        }
    )


def report(**changed) -> FrozenReport:
    """Return the sample report, with some fields of its document changed."""
    question = ReportQuestion(
        "period",
        date(2026, 1, 1),
        date(2026, 3, 31),
        people_reached=240,
        signed_by=("Lead of the workshop", "For the funder"),
    )
    return FrozenReport("D3-8", 3, FROZEN_AT, "D2-A", question, document(**changed))


def with_text(text: str) -> FrozenReport:
    """Return a report with a text in every place that holds words."""
    columns = (Column("what", text, "text"), Column("n", text, "number", text))
    table = Table("words", text, columns, ((text, 1), (text, None)), (text, 1))
    section = Section(
        "words",
        text,
        (text,),
        (Fact("a", text, text, "text", note=text), Fact("b", text, 1, "number", text)),
        (table,),
        (Drawing("d", "bars", text, text, "words", "what", ("n",)),),
    )
    return report(
        title=text,
        subtitle=text,
        workshop=text,
        sections=(section,),
        definitions=((text, text),),
        signatures=(text,),
    )
