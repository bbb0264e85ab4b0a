"""What a page says, for tests: its words in a line, its tables as rows, its CSV as rows."""

from __future__ import annotations

import csv
import io
import re
from html import unescape


def text_of(answer) -> str:
    """Give the words of a page as they are read, in one line."""
    words = re.sub(r"<(script|style)\b.*?</\1>", " ", answer.content.decode(), flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", words)).split())


def table_of(answer, caption: str) -> list[list[str]]:
    """Give the rows of the table with this caption, header first."""
    found = re.search(
        rf"<caption>{re.escape(caption)}</caption>(.*?)</table>", answer.content.decode(), re.S
    )
    assert found, f"no table “{caption}”"
    rows = re.findall(r"<tr\b.*?</tr>", found[1], re.S)
    return [
        [
            " ".join(unescape(re.sub(r"<[^>]+>", " ", cell)).split())
            for cell in re.findall(r"<t[hd]\b[^>]*>(.*?)</t[hd]>", row, re.S)
        ]
        for row in rows
    ]


def csv_of(answer) -> list[dict[str, str]]:
    """Give the rows of a CSV answer by column."""
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    text = b"".join(answer.streaming_content).decode()
    return list(csv.DictReader(io.StringIO(text, newline="")))


def milligrams(kilograms: str) -> int:
    """Read a cell in kg down to the milligram, without a float."""
    whole, _, part = kilograms.partition(".")
    assert len(part) == 6, kilograms
    return int(whole + part)
