"""Bytes as text: by their mark, as UTF-8, else by the reading in which words are words.

Without a mark and no UTF-8, four old encodings are read. Those that give words which are known
(of the set-up, of heads, or usual ones) win, then those that put no sign or capital inside a word.
What still reads in several ways is asked.
"""

from __future__ import annotations

import codecs
import re
import unicodedata
from collections.abc import Collection

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.folded import folded
from recycling.tables.lists.words import HEAD_WORDS
from shared.errors import Refused
from shared.said import say

MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
OLD = ("cp1252", "cp1250", "mac_roman", "cp850")
NAMES = {"cp1252": "Windows-1252", "cp1250": "Windows-1250", "mac_roman": "Mac", "cp850": "DOS 850"}
USUAL = frozenset(
    one
    for line in (
        "für über übrig straße schüler büro müll grün weiß größe mädchen jugendhaus städtisch",
        "präsident märz jänner école écoles collège lycée café mairie été février août",
        "décembre qualité quantité écran société crèche bibliothèque théâtre mère père forêt",
        "église hôtel hôpital não são joão março três após água coração associação fundação",
        "união educação freguesia junta câmara município póvoa nº praça estação niño niña",
        "niños peña españa año años señor maría josé garcía lópez martínez colegio educación",
        "asociación fundación música tienda panadería città società università più perché",
        "caffè scuola één geïnteresseerd kärnten köln münchen düsseldorf zürich grundschule",
        "bäckerei gemüse getränke schön süß östlich nördlich französisch kostel škola žižkov",
        "brněnská główna szkoła łódź śląsk české města základní",
    )
    for one in line.split()
)
"""Usual words with letters beyond ASCII, of the seven languages and some of their neighbours."""
LETTERS = frozenset("abcdefghijklmnopqrstuvwxyzàáâãäåæçèéêëìíîïñòóôõöøùúûüÿßœ")
"""Letters of the languages that heads are known in."""
HEAD_PARTS = frozenset(part for word in HEAD_WORDS for part in word.split() if len(part) > 2)
"""The words of heads, folded."""
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)*")
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
_SIGN_AFTER = re.compile(r"[^\W\d_][^\x00-\x7f\w”“’»…–—·°º²³®™©€\u00a0\u202f]")
_SIGN_BEFORE = re.compile(r"[^\x00-\x7f\w„“”‚‘’«»¿¡…–—·•°º€£§№\u00a0\u202f][^\W\d_]")
"""A sign right after, or before, a letter that no writing has there."""
MOST_WORDS = 6


def text_of(data: bytes, known: Collection[str], asking: Asking) -> str | None:
    """Decode a file; None where it is asked what it says.

    Raises
    ------
    Refused
        When it is no text.
    """
    text = _marked(data)
    if text is None:
        text = _utf16(data)
    if text is None:
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            text = _old(data, known, asking)
    if text is not None and "\x00" in text:
        raise Refused.because("text-unreadable", "This is no text: save it as CSV.", "/text")
    return text


def _marked(data: bytes) -> str | None:
    for mark, encoding in MARKS:
        if data.startswith(mark):
            try:
                return data.decode(encoding)
            except UnicodeDecodeError as error:
                raise _no_text() from error
    return None


def _utf16(data: bytes) -> str | None:
    """Read UTF-16 without a mark: every second byte of plain letters is zero."""
    head = data[:400]
    for start, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        half = head[start::2]
        if len(half) > 8 and half.count(0) > 0.8 * len(half):
            try:
                return data.decode(encoding)
            except UnicodeDecodeError:
                return None
    return None


def _no_text() -> Refused:
    return Refused.because(
        "text-unreadable", "This is no text in a usual encoding: save it as CSV UTF-8.", "/text"
    )


def _old(data: bytes, known: Collection[str], asking: Asking) -> str | None:
    texts: dict[str, str] = {}
    for encoding in OLD:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if not _CONTROL.search(text) and text not in texts.values():
            texts[encoding] = text
    if not texts:
        raise _no_text()
    words = {name: _words(text) for name, text in texts.items()}
    known = {word for one in known for word in _words(one)} | USUAL
    right = {name: _known(words[name], known) for name in texts}
    most = max(right.values())
    left = [name for name in texts if right[name] == most] if most else list(texts)
    tidy = [name for name in left if not _broken(texts[name], words[name])]
    left = tidy or left
    if len(left) == 1:
        return texts[left[0]]
    chosen = asking.ask(
        "encoding",
        "encoding",
        say("Some letters of this file can be read in several ways. Which words are right?"),
        [Choice(name, NAMES[name], _example(words[name])) for name in left],
    )
    return texts.get(chosen or "")


def _known(words: Collection[str], known: Collection[str]) -> int:
    """Count the words that are known: of names and usual ones letter by letter, of heads folded."""
    said = {word.casefold() for word in words}
    return sum(
        word in known or (folded(word) in HEAD_PARTS and LETTERS.issuperset(word)) for word in said
    )


def _words(text: str) -> list[str]:
    """List the words with a letter beyond ASCII, as they stand, in small letters if all are."""
    found = dict.fromkeys(word for word in _WORD.findall(text) if not word.isascii())
    return [word for one in found for word in {one, one.casefold()}]


def _broken(text: str, words: Collection[str]) -> bool:
    """Whether a sign stands amid letters, or a capital inside a word of small ones."""
    if _SIGN_AFTER.search(text) or _SIGN_BEFORE.search(text):
        return True
    for word in words:
        rest = word[1:]
        if not word.isupper() and any(unicodedata.category(sign) == "Lu" for sign in rest):
            return True
    return False


def _example(words: Collection[str]) -> str:
    return ", ".join(list(dict.fromkeys(word for word in words))[:MOST_WORDS])
