"""By which version of the program a file was set: a mark of all that decides how it looks.

A report's figures are the same for every version that reads them; where lines break, how a drawing
is drawn and which words stand around it may change. The mark says whether bytes can be compared.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SETTING = (
    "tables/*.py",
    "tables/paper/*",
    "figures/*.py",
    "queries/report_words.py",
    "locale/*/LC_MESSAGES/*.mo",
)
PACKAGES = ("Django", "typst", "xlsxwriter")
LENGTH = 12


@cache
def setter() -> str:
    """Return the mark of this version: the beginning of a SHA-256, in hexadecimal."""
    whole = hashlib.sha256()
    for pattern in SETTING:
        for path in sorted(ROOT.glob(pattern)):
            name = path.relative_to(ROOT).as_posix()
            whole.update(f"{name}:{hashlib.sha256(path.read_bytes()).hexdigest()};".encode())
    for package in PACKAGES:
        whole.update(f"{package}:{version(package)};".encode())
    return whole.hexdigest()[:LENGTH]


def keywords(code: str, digest: str) -> list[str]:
    """Return what a file says of itself: its report, the SHA-256 of the figures, who set it."""
    return [code, f"sha256:{digest}", f"set:{setter()}"]
