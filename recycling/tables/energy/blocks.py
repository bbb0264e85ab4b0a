"""A file of energy read in blocks of whole lines, so that its size never matters."""

import codecs
import csv
import hashlib
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from recycling.tables.energy.layout import EnergyLayout
from recycling.tables.time_columns import parse_times
from shared.said import say

BLOCK_BYTES = 4 << 20
LONGEST_LINE = 1 << 16
MOST_NAMED = 100
STRICT = r"[+-]?(?:[0-9]{{1,20}}(?:{0}[0-9]{{0,20}})?|{0}[0-9]{{1,20}})(?:[eE][+-]?[0-9]{{1,3}})?"
MISSING = {"", "-", "--", "nan", "na", "n/a", "null", "none"}


@dataclass(frozen=True)
class Finding:
    """Something about a line that a person has to know. line: its number; says: what it is."""

    line: int
    says: str


@dataclass
class Findings:
    """What a reading found. problems stop an import; missing are rows without a value.

    told: is told how many bytes were read, block by block.
    """

    problems: list[Finding] = field(default_factory=list)
    problem_count: int = 0
    missing: int = 0
    digest: str = ""
    told: Callable[[int], None] | None = None

    def add(self, line: int, says: str) -> None:
        """Name a problem; beyond a hundred they are only counted."""
        self.problem_count += 1
        if len(self.problems) < MOST_NAMED:
            self.problems.append(Finding(int(line), says))


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows of a file. line: number; us: µs since 1970 on the wall or in UTC; value: W or kWh."""

    line: np.ndarray
    us: np.ndarray
    value: np.ndarray

    def __getitem__(self, chosen) -> "Rows":
        return Rows(self.line[chosen], self.us[chosen], self.value[chosen])

    def __len__(self) -> int:
        return len(self.us)

    @staticmethod
    def joined(parts: "list[Rows]") -> "Rows":
        """Rows one after another."""
        return Rows(
            *(np.concatenate([getattr(p, n) for p in parts]) for n in ("line", "us", "value"))
        )


def read_rows(path: Path, layout: EnergyLayout, findings: Findings) -> Iterator[Rows]:
    """Rows of a file in the order they stand, block by block; what is wrong goes to `findings`.

    Raises ValueError if a line is longer than 65,536 bytes.
    """
    line = layout.header_lines + 1
    for block in _blocks(path, layout, findings):
        count = _count(block, "\n")
        texts, values, lines = _quick(block, count, line, layout) or _careful(
            block, line, layout, findings
        )
        line += count
        if len(lines):
            yield _timed(texts, values, lines, layout, findings)


def _blocks(path: Path, layout: EnergyLayout, findings: Findings) -> Iterator[bytes]:
    """Whole lines in UTF-8 without the header, each ended by a line feed."""
    digest, rest, is_first = hashlib.sha256(), b"", True
    with open(path, "rb") as file:
        decoder = codecs.getincrementaldecoder("utf-16")() if layout.encoding == "utf-16" else None
        while piece := file.read(BLOCK_BYTES):
            piece += file.read(2) if piece.rstrip(b"\0").endswith(b"\r") else b""
            digest.update(piece)
            if findings.told:
                findings.told(file.tell())
            text = decoder.decode(piece).encode() if decoder else piece
            if b"\r" in text:
                text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
            if is_first:
                text = _without_header(text, layout.header_lines)
            is_first, text = False, rest + text
            end = text.rfind(b"\n") + 1
            rest = text[end:]
            if len(rest) > LONGEST_LINE:
                raise ValueError("a line is longer than 65,536 bytes: this is not a log of energy")
            if end:
                yield text[:end]
    findings.digest = digest.hexdigest()
    if rest.strip():
        yield rest + b"\n"


def _count(block: bytes, mark: str) -> int:
    return int(np.count_nonzero(np.frombuffer(block, np.uint8) == ord(mark)))


def _without_header(text: bytes, lines: int) -> bytes:
    text = text.removeprefix(codecs.BOM_UTF8)
    for _ in range(lines):
        text = text.partition(b"\n")[2]
    return text


def _quick(block: bytes, count: int, line: int, layout: EnergyLayout):
    """Columns of a block without fault, or None where any row needs a closer look."""
    import pandas as pd

    width = len(layout.columns)
    if _count(block, layout.separator) != count * (width - 1):
        return None
    kinds = dict.fromkeys(layout.time_columns, f"S{layout.time_width}") | {
        layout.value_column: "f8"
    }
    try:
        frame = pd.read_csv(
            io.BytesIO(block),
            sep=layout.separator,
            decimal=layout.decimal,
            header=None,
            names=range(width),
            usecols=list(kinds),
            dtype=kinds,
            na_filter=False,
            index_col=False,
            encoding="latin-1",
        )
    except (ValueError, pd.errors.ParserError):
        return None
    values = frame[layout.value_column].to_numpy()
    if len(frame) != count or not np.isfinite(values).all():
        return None
    texts = [frame[place].to_numpy() for place in layout.time_columns]
    if any(text.view(np.uint8)[layout.time_width - 1 :: layout.time_width].any() for text in texts):
        return None
    return _beside(texts), values * layout.factor, np.arange(line, line + count)


def _beside(texts: list[np.ndarray]) -> np.ndarray:
    """Date and time columns as one, a blank between."""
    joined = texts[0]
    for text in texts[1:]:
        joined = np.char.add(np.char.add(joined, b" "), text)
    return joined


def _careful(block: bytes, line: int, layout: EnergyLayout, findings: Findings):
    """Rows of a block one by one, each fault named."""
    texts, values, lines = [], [], []
    is_number = re.compile(STRICT.format(re.escape(layout.decimal)), re.ASCII).fullmatch
    place, width = layout.value_column, len(layout.columns)
    needed = max(*layout.time_columns, place) + 1
    for number, row in enumerate(_cells(block.decode("latin-1"), layout.separator), start=line):
        if len(row) < 2 and not "".join(row).strip():
            continue
        if not needed <= len(row) <= width:
            findings.add(number, say("{row} columns instead of {width}", row=len(row), width=width))
            continue
        value = row[place].strip()
        if is_number(value):
            texts.append(" ".join([row[at].strip() for at in layout.time_columns])[:64])
            values.append(float(value.replace(layout.decimal, ".")))
            lines.append(number)
        elif value.lower() in MISSING:
            findings.missing += 1
        else:
            findings.add(number, say("{value!r} is not a number", value=value[:40]))
    times = np.array([text.encode("latin-1") for text in texts], dtype="S64")
    return times, np.array(values) * layout.factor, np.array(lines, dtype=np.int64)


def _cells(text: str, separator: str) -> Iterator[list[str]]:
    """Cells of each line; a quote never reaches beyond its line."""
    for line in text.split("\n")[:-1]:
        yield (
            next(csv.reader([line], delimiter=separator)) if '"' in line else line.split(separator)
        )


def _timed(texts, values, lines, layout: EnergyLayout, findings: Findings) -> Rows:
    times = parse_times(texts, layout.time_shape)
    good = times.readable
    for place in np.flatnonzero(~times.readable):
        text = texts[place].decode("latin-1")
        findings.add(
            lines[place],
            say(
                "{text!r} is not a time with the {time_shape}",
                text=text,
                time_shape=layout.time_shape,
            ),
        )
    for place in np.flatnonzero(times.readable & (times.is_utc != layout.has_offset)):
        findings.add(lines[place], "times with and without a UTC offset are mixed")
    good = good & (times.is_utc == layout.has_offset)
    for place in np.flatnonzero(good & ~((values >= 0) & (values < 1e12))):
        findings.add(
            lines[place], say("{values:g} is not between 0 and 10¹²", values=values[place])
        )
    good &= (values >= 0) & (values < 1e12)
    rows = Rows(lines, times.us, values)
    return rows if good.all() else rows[good]
