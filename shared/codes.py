"""Codes that are easy to say aloud: a letter, a number, and a check character."""

from __future__ import annotations

import re
from dataclasses import dataclass

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LETTERS = {
    "C": "collection",
    "P": "purchase",
    "O": "opening count",
    "L": "lot",
    "S": "spool",
    "R": "run",
    "D": "report",
}
_CODE = re.compile(r"^([COPLSRD])[\s-]?([1-9][0-9]{0,8})[\s-]?([0-9A-Z])$", re.ASCII)
_LABEL = re.compile(
    r"^https?://[^/?#]+/(?:q/([\w-]{1,40})|w/([\w-]{1,40})/(?:lots|runs|collections))/([^/?#]+)",
    re.ASCII | re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Scanned:
    """What a label's square says.

    Attributes
    ----------
    code : str
        The code of a thing, as it is written.
    slug : str
        Short name of its workshop in addresses, in small letters; empty where only the code was
        given.
    """

    code: str
    slug: str = ""


def check_character(text: str) -> str:
    """Return the check character of ISO/IEC 7064, MOD 37,36, for letters and digits [1]_.

    Parameters
    ----------
    text : str
        Capital letters and ASCII digits.

    Returns
    -------
    str
        One letter or digit.

    Raises
    ------
    ValueError
        If another character occurs.

    References
    ----------
    .. [1] ISO/IEC 7064:2003, hybrid system MOD 37,36.

    Examples
    --------
    >>> check_character("L345")
    'L'
    """
    rest = 36
    for character in text:
        rest = (rest + ALPHABET.index(character)) % 36 or 36
        rest = rest * 2 % 37
    return ALPHABET[(37 - rest) % 36]


def code_for(letter: str, number: int) -> str:
    """Write the code of a thing.

    Examples
    --------
    >>> code_for("L", 345)
    'L345-L'
    """
    return f"{letter}{number}-{check_character(f'{letter}{number}')}"


def read_code(text: str) -> str | None:
    """Return a typed code as it is written, or None when it is not one or is mistyped.

    Small letters, and a space or nothing for the dash, are taken. O for 0 or I for 1 is not: both
    are check characters, and taking one for the other would let a slip through.

    Examples
    --------
    >>> read_code("l345l"), read_code("L354-L")
    ('L345-L', None)
    """
    match = _CODE.match(text.strip().upper())
    if not match:
        return None
    letter, digits, check = match.groups()
    wanted = code_for(letter, int(digits))
    return wanted if check == wanted[-1] else None


def read_scan(text: str) -> Scanned | None:
    """Return what a scanner or a person gave: a code, or a label's address that names one.

    Whose host the address names does not matter: a label outlives the address of its service.

    Examples
    --------
    >>> read_scan("HTTPS://LEDGER.EXAMPLE.ORG/Q/TIDEMILL/L345-L")
    Scanned(code='L345-L', slug='tidemill')
    >>> read_scan("l345l"), read_scan("https://example.org/")
    (Scanned(code='L345-L', slug=''), None)
    """
    text = text.strip()
    match = _LABEL.match(text)
    last = text.rstrip("/").rsplit("/", 1)[-1] if "://" in text else text
    code = read_code(match[3] if match else last)
    if code is None:
        return None
    return Scanned(code, (match[1] or match[2]).lower() if match else "")


def label_path(slug: str, code: str, token: str = "") -> str:
    """Write where a label's square leads, in capitals so that the symbol stays small.

    Letters, digits and ``-/:.`` in capitals fit the alphanumeric mode of ISO/IEC 18004, which takes
    5.5 bits for each instead of 8.

    Examples
    --------
    >>> label_path("tidemill", "S12-Q", "mfrgg43f")
    '/Q/TIDEMILL/S12-Q/MFRGG43F'
    """
    return "/".join(("/Q", slug, code, token)).rstrip("/").upper()
