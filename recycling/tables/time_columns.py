"""Columns of times as text to microseconds, by the shape of the text, for whole columns at once."""

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

US_PER_S = 1_000_000
MOST_SHAPES = 200

_CLOCK = (
    r"(?P<hour>\d\d?):(?P<minute>\d\d)(?::(?P<second>\d\d)(?:[.,](?P<fraction>\d{1,6})\d{0,3})?)?"
    r"(?: ?(?P<half>[AaPp])[Mm])?(?: ?(?P<offset>Z|[+-]\d\d:?\d\d))?"
)
_YEAR, _MONTH, _DAY = r"(?P<year>\d{4})", r"(?P<month>\d\d?)", r"(?P<day>\d\d?)"
_MARK = r"(?P<mark>[-/.])"
SHAPES = {
    "year first": rf"{_YEAR}{_MARK}{_MONTH}(?P=mark){_DAY}[T, ]{{1,2}}{_CLOCK}",
    "day first": rf"{_DAY}{_MARK}{_MONTH}(?P=mark){_YEAR}[T, ]{{1,2}}{_CLOCK}",
    "month first": rf"{_MONTH}{_MARK}{_DAY}(?P=mark){_YEAR}[T, ]{{1,2}}{_CLOCK}",
    "seconds since 1970": r"(?P<epoch_s>\d{9,10})(?:\.(?P<fraction>\d{1,6})\d{0,3})?",
    "milliseconds since 1970": r"(?P<epoch_ms>\d{12,13})",
}
_COMPILED = {name: re.compile(pattern, re.ASCII) for name, pattern in SHAPES.items()}
_NUMBERS = ("year", "month", "day", "hour", "minute", "second", "fraction", "epoch_s", "epoch_ms")


@dataclass(frozen=True, eq=False)
class Times:
    """Parsed times. us: µs since 1970, UTC where is_utc, else on the wall; readable: which ones."""

    us: np.ndarray
    is_utc: np.ndarray
    readable: np.ndarray


def fits(shape: str, text: str) -> bool:
    """Whether a text has the shape and is a real date and time.

    Examples
    --------
    >>> fits("day first", "31.01.2025 07:05"), fits("month first", "31.01.2025 07:05")
    (True, False)
    """
    return bool(parse_times(np.array([text.encode()]), shape).readable[0])


def parse_times(texts: np.ndarray, shape: str) -> Times:
    """Read a column of byte strings in one shape of `SHAPES`; what does not fit is marked.

    The first unread text gives the places of its digits, and all that agree with it in everything
    but digits are read along with it; so on until none is left or too many differ.

    Examples
    --------
    >>> times = parse_times(np.array([b"2025-01-01 00:00:01", b"soon"]), "year first")
    >>> times.us[0].item(), times.readable.tolist()
    (1735689601000000, [True, False])
    """
    count, width = len(texts), texts.dtype.itemsize
    us = np.zeros(count, dtype=np.int64)
    is_utc, readable = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    left = np.arange(count)
    for _ in range(MOST_SHAPES):
        if not left.size:
            break
        every = len(left) == count
        chosen = texts if every else texts[left]
        match = _COMPILED[shape].fullmatch(chosen[0].decode("latin-1"))
        if match is None:
            left = left[chosen != chosen[0]]
            continue
        bytes_by_place = np.ascontiguousarray(chosen.view(np.uint8).reshape(-1, width).T)
        alike = _alike(bytes_by_place, chosen[0], match)
        if not alike.all():
            bytes_by_place = bytes_by_place[:, alike]
        value, is_real = _moment(bytes_by_place, match)
        taken = left if alike.all() else left[alike]
        us[taken], readable[taken] = value, is_real
        is_utc[taken] = "1970" in shape or bool(_group(match, "offset"))
        left = left[~alike]
    return Times(us, is_utc, readable)


def _group(match: re.Match, name: str) -> str:
    return match.groupdict().get(name) or ""


def _alike(places: np.ndarray, first: bytes, match: re.Match) -> np.ndarray:
    digits = {
        place for name in _NUMBERS if _group(match, name) for place in range(*match.span(name))
    }
    alike = np.ones(places.shape[1], dtype=bool)
    for place, row in enumerate(places):
        if place in digits:
            alike &= (row - 48) <= 9
        else:
            alike &= row == (first[place] if place < len(first) else 0)
    return alike


def _number(places: np.ndarray, match: re.Match, name: str, kind: type = np.int32) -> Any:
    """Read the digits of a name as a column; one 0 for all where the shape has no such name."""
    if not _group(match, name):
        return 0
    start, end = match.span(name)
    number = (places[start] - 48).astype(kind)
    for place in range(start + 1, end):
        number *= 10
        number += places[place] - 48
    return number


def _moment(places: np.ndarray, match: re.Match) -> tuple[np.ndarray, np.ndarray]:
    fraction = _number(places, match, "fraction") * 10 ** (6 - len(_group(match, "fraction")))
    everywhere = np.ones(places.shape[1], dtype=bool)
    if _group(match, "epoch_s"):
        return _number(places, match, "epoch_s", np.int64) * US_PER_S + fraction, everywhere
    if _group(match, "epoch_ms"):
        return _number(places, match, "epoch_ms", np.int64) * 1000, everywhere
    part = {name: _number(places, match, name) for name in _NUMBERS[:6]}
    hour, half = part["hour"], _group(match, "half").lower()
    is_real = (hour >= 1) & (hour <= 12) if half else hour < 24
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    is_real &= (part["month"] >= 1) & (part["month"] <= 12) & (part["day"] >= 1)
    is_real &= (part["minute"] < 60) & (part["second"] < 60)
    month = (part["year"] - 1970) * 12 + np.clip(part["month"], 1, 12) - 1
    first = month.astype("M8[M]").astype("M8[D]").astype(np.int32)
    if (part["day"] > 28).any():
        is_real &= (
            part["day"] <= (month + 1).astype("M8[M]").astype("M8[D]").astype(np.int32) - first
        )
    seconds = (hour * 60 + part["minute"]) * 60 + part["second"]
    days = (first + part["day"] - 1).astype(np.int64)
    return (days * 86_400 + seconds - _offset_s(match)) * US_PER_S + fraction, is_real


def _offset_s(match: re.Match) -> int:
    text = _group(match, "offset").replace(":", "")
    if text in ("", "Z"):
        return 0
    size = int(text[1:3]) * 3600 + int(text[3:5]) * 60
    return -size if text[0] == "-" else size
