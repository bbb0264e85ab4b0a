"""Codes one slip away from what was typed: slips that the check character of ISO/IEC 7064 finds."""

from __future__ import annotations

import re

from shared.codes import ALPHABET, LETTERS, code_for, read_code

_LOOKS_LIKE = str.maketrans("OILSB", "01158")
_ALMOST = re.compile(r"^([A-Z]?)[\s-]?([0-9]{1,9})[\s-]?([0-9A-Z]?)$", re.ASCII)
_FIGURES = ALPHABET[:10]


def one_slip_away(typed: str) -> list[str]:
    """Give the codes that are one slip away from what was typed, the likeliest first.

    A slip is two neighbours that changed places, one wrong, missing or superfluous character, or
    letters for the figures that they look like.

    Examples
    --------
    >>> one_slip_away("L354-L")[0], one_slip_away("L345")[0], one_slip_away("spool")
    ('L345-L', 'L345-L', [])
    >>> one_slip_away("S9O3-T")[0]
    'S903-T'
    """
    match = _ALMOST.match(_figured(typed))
    if not match:
        return []
    letter, digits, check = match.groups()
    letters = [letter] if letter in LETTERS else list(LETTERS)
    found: list[str] = []
    whole = digits + check
    if whole.isdigit() and not re.search(r"[\s-][0-9]$", typed.strip()):
        found += [code_for(one, int(whole)) for one in letters]
        digits, check = whole[:-1], whole[-1]
    if digits and check:
        found += _slips(letters, digits, check)
    return list(dict.fromkeys(found))


def _slips(letters: list[str], digits: str, check: str) -> list[str]:
    found = [code for one in letters for code in _checked(one, _transposed(digits), check)]
    found += [code for one in letters for code in _checked(one, [digits], check)]
    found += [code for one in LETTERS for code in _checked(one, [digits], check)]
    found += [code_for(one, int(digits)) for one in letters]
    found += [code for one in letters for code in _checked(one, _substituted(digits), check)]
    near = _one_fewer(digits) + _one_more(digits)
    return found + [code for one in letters for code in _checked(one, near, check)]


def looks_like_code(typed: str) -> bool:
    """Say whether something was meant to be a code.

    Examples
    --------
    >>> looks_like_code("L354-L"), looks_like_code("spool")
    (True, False)
    """
    return bool(_ALMOST.match(_figured(typed)))


def _checked(letter: str, numbers: list[str], check: str) -> list[str]:
    """Keep the codes whose check character fits."""
    written = (f"{letter}{digits}-{check}" for digits in numbers if digits)
    return [code for text in written if (code := read_code(text))]


def _figured(typed: str) -> str:
    """Write letters that look like figures as such, between the first sign and the last."""
    text = typed.strip().upper()
    return text[:1] + text[1:-1].translate(_LOOKS_LIKE) + text[1:][-1:]


def _transposed(digits: str) -> list[str]:
    return [
        digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
        for place in range(len(digits) - 1)
        if digits[place] != digits[place + 1]
    ]


def _substituted(digits: str) -> list[str]:
    return [
        digits[:place] + figure + digits[place + 1 :]
        for place in range(len(digits))
        for figure in _FIGURES
        if figure != digits[place]
    ]


def _one_fewer(digits: str) -> list[str]:
    return [digits[:place] + digits[place + 1 :] for place in range(len(digits))]


def _one_more(digits: str) -> list[str]:
    if len(digits) >= 9:
        return []
    return [
        digits[:place] + figure + digits[place:]
        for place in range(len(digits) + 1)
        for figure in _FIGURES
    ]
