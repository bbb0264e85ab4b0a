"""A hundred lists drawn from a seed, each with the truth that it was written from.

Whoever writes a list here chooses a language, an encoding, a notation, and what is untidy about it,
and knows which reading is meant and whether the list itself says so. None may be misread: what the
list leaves open is asked, and the answer that is meant leads to the rows that were written.
"""

from __future__ import annotations

import io
import random
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import openpyxl
import pytest

from recycling.tables.lists.asking import Asking
from recycling.tables.lists.cells import sheets_again
from recycling.tables.lists.known import Known
from recycling.tables.lists.reading import ReadList, read_sheets, sheets_of_text
from recycling.tables.lists.spreadsheets import read_here

LISTS = 100
SOURCES = ("Fen Lane Primary", "Café Maré Baixa", "Brickfield Canteen", "Jardim das Flores")
KNOWN = Known(
    "Europe/Lisbon",
    datetime(2026, 11, 30, 20, tzinfo=UTC),
    SOURCES,
    polymers=(("PET", "", 1), ("HDPE", "", 2), ("PP", "", 5)),
    largest_mg=60_000_000,
)
HEADS = {
    "en": ("Date", "Given by", "Plastic", "Weight", "Remarks"),
    "de": ("Datum", "Spender", "Kunststoff", "Gewicht", "Bemerkung"),
    "pt": ("Data", "De quem", "Plástico", "Peso", "Observações"),
    "fr": ("Date", "Provenance", "Plastique", "Poids", "Remarques"),
    "es": ("Fecha", "De quién", "Plástico", "Peso", "Notas"),
    "it": ("Data", "Da chi", "Plastica", "Peso", "Note"),
    "nl": ("Datum", "Van wie", "Kunststof", "Gewicht", "Opmerking"),
}
MONTHS = {
    "en": ("September", "October"),
    "de": ("September", "Oktober"),
    "pt": ("setembro", "outubro"),
    "fr": ("septembre", "octobre"),
    "es": ("septiembre", "octubre"),
    "it": ("settembre", "ottobre"),
    "nl": ("september", "oktober"),
}
TOTAL = {"en": "Total", "de": "Summe", "pt": "Soma", "fr": "Total", "es": "Suma", "it": "Totale"}
DATES = ("iso", "points", "short points", "slashes", "words")
NUMBERS = ("point", "comma", "three", "grams", "grams parted")
UNITS = ("head", "cell", "row", "none")


class Written:
    """A list with its truth: what is meant, and what of it the list leaves open."""

    def __init__(self, seed: int) -> None:
        self.chance = chance = random.Random(f"list {seed}")
        self.language = chance.choice(sorted(HEADS))
        self.dates, self.numbers = chance.choice(DATES), chance.choice(NUMBERS)
        self.unit_in, self.spreadsheet = chance.choice(UNITS), chance.random() < 0.25
        self.unit = "g" if self.numbers.startswith("grams") else "kg"
        self.mark = "," if self.numbers == "comma" or chance.random() < 0.5 else "."
        if self.numbers == "point":
            self.mark = "."
        self.rows = [self._row() for _ in range(chance.randrange(2, 9))]
        self.open = {"unit": self.unit} if self.unit_in == "none" else {}
        ambiguous = self.numbers == "grams parted" and not self.spreadsheet
        if ambiguous and all(mg // 1000 >= 1000 for _, _, _, mg in self.rows):
            self.open["number"] = "comma" if self.mark == "," else "point"
            self.open["number"] = {"point": "comma", "comma": "point"}[self.open["number"]]
        if self.dates == "slashes" and all(day.day <= 12 for day, *_ in self.rows):
            self.open["date"] = "dmy"

    def _row(self) -> tuple[date, str, str, int]:
        chance = self.chance
        day = date(2026, 9, 1) + timedelta(days=chance.randrange(60))
        grams = chance.randrange(1_001, 9_999)
        if self.numbers in ("point", "comma"):
            grams -= grams % 10
        source, polymer = chance.choice(SOURCES), chance.choice(("PET", "PET", "HDPE"))
        return day, source, polymer, grams * 1_000

    def day(self, day: date) -> str:
        if self.dates == "words":
            return f"{day.day} {MONTHS[self.language][day.month - 9]} {day.year}"
        pattern = {
            "iso": "%Y-%m-%d",
            "points": "%d.%m.%Y",
            "short points": "%-d.%-m.%y",
            "slashes": "%d/%m/%Y",
        }
        return day.strftime(pattern[self.dates])

    def mass(self, mg: int) -> str:
        if self.numbers == "grams":
            said = str(mg // 1_000)
        elif self.numbers == "grams parted":
            said = f"{mg // 1_000:,}".replace(",", self.mark)
        else:
            digits = 3 if self.numbers == "three" else 2
            said = f"{Decimal(mg) / 1_000_000:.{digits}f}".replace(".", self.mark)
        return f"{said} {self.unit}" if self.unit_in == "cell" else said

    @property
    def table(self) -> list[list[str]]:
        heads = list(HEADS[self.language])
        if self.unit_in == "head":
            heads[3] += self.chance.choice((f" ({self.unit})", f" {self.unit}", f" [{self.unit}]"))
        rows = [heads]
        if self.unit_in == "row":
            rows.append(["", "", "", self.unit, ""])
        for day, source, polymer, mg in self.rows:
            source = self.chance.choice((source, source, source.upper(), f" {source} "))
            note = self.chance.choice(("", "", "at the gate", "x; y"))
            rows.append([self.day(day), source, polymer, self.mass(mg), note])
        if self.chance.random() < 0.4:
            rows.insert(0, ["Bottles, autumn", "", "", "", ""])
            rows.insert(1, ["", "", "", "", ""])
        if self.chance.random() < 0.4 and self.language in TOTAL:
            total = sum(mg for *_, mg in self.rows)
            rows += [["", "", "", "", ""], [TOTAL[self.language], "", "", self.mass(total), ""]]
        return rows

    def data(self) -> bytes:
        rows = self.table
        if self.spreadsheet:
            return self._workbook(rows)
        separator = self.chance.choice((";", "\t", ",") if self.mark == "." else (";", "\t"))
        end = self.chance.choice(("\n", "\r\n"))
        text = end.join(separator.join(self._quoted(cell, separator) for cell in row)
                        for row in rows) + end  # fmt: skip
        return text.encode(self.chance.choice(("utf-8", "utf-8-sig", "utf-16", "cp1252")))

    def _quoted(self, cell: str, separator: str) -> str:
        return f'"{cell}"' if separator in cell or self.chance.random() < 0.05 else cell

    def _workbook(self, rows: list[list[str]]) -> bytes:
        """As a spreadsheet holds it: dates and numbers as such, but with a unit in the cell."""
        book, paper = openpyxl.Workbook(), io.BytesIO()
        days = {self.day(day): day for day, *_ in self.rows}
        for row in rows:
            book.active.append([days.get(cell, cell) or None for cell in row])
        book.save(paper)
        return paper.getvalue()


def read(data: bytes, answers: dict[str, str]) -> ReadList:
    asking = Asking(answers=answers)
    if data.startswith(b"PK"):
        sheets = sheets_again(read_here(data)["sheets"])
    else:
        sheets = sheets_of_text(data, KNOWN, asking, lambda: None)
    assert sheets is not None
    return read_sheets(sheets, KNOWN, asking)


@pytest.mark.parametrize("seed", range(LISTS))
def test_a_list_is_read_as_it_was_meant_and_asked_where_it_does_not_say(seed):
    written = Written(seed)
    data = written.data()
    found = read(data, {})
    due = dict(written.open)
    if written.spreadsheet:
        due.pop("date", None)  # its cells hold dates
        if written.numbers == "grams parted" and all(m >= 10**6 for *_, m in written.rows):
            due["number"] = "comma" if written.mark == "." else "point"
    asked = set(found.asking.questions)
    first = {"unit"} if "unit" in due else set(due)
    assert first <= asked <= set(due), (asked, due, data[:300])
    assert not found.asking.found.problems, found.asking.found.problems
    if due:
        found = read(data, due)
        assert not found.asking.questions and not found.asking.found.problems
    got = sorted((row.day, row.source, row.polymer, row.mass_mg) for row in found.rows)
    assert got == sorted(written.rows), data[:400]


def test_what_is_drawn_is_of_every_kind():
    every = [Written(seed) for seed in range(LISTS)]
    assert {one.language for one in every} == set(HEADS)
    assert {one.dates for one in every} == set(DATES)
    assert {one.numbers for one in every} == set(NUMBERS)
    assert {key for one in every for key in one.open} == {"unit", "number", "date"}
