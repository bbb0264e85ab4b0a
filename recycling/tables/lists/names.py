"""Names in a list: equal when folded, proposed when near, added when nobody has them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from recycling.stages.declaration import FORMS, HEEL
from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.folded import folded, nearest
from recycling.tables.lists.known import Known
from recycling.tables.lists.words import FORM_WORDS, POLYMER_WORDS
from shared.said import say

MOST_NEAR, MOST_LISTED, MOST_ASKED = 5, 20, 40
ADD, LEAVE, WITHOUT = "+add", "+leave", "+without"
"""Answers that are no name; no name of the set-up starts so when it is proposed."""


def sources_of(
    said: Mapping[str, tuple[int, str]], known: Known, asking: Asking
) -> dict[str, str | None]:
    """Find the source that each text means; None leaves its rows out, a missing one is asked.

    Parameters
    ----------
    said : mapping of str to (int, str)
        Each text with the first row that has it, and the head of its column.

    Returns
    -------
    dict of str to str or None
        The name for each text; a name that is not set up is one to add.
    """
    found, unknown = dict[str, str | None](), list[str]()
    names = by_folded(known.sources)
    for text, (row, head) in said.items():
        if text in known.sources:
            found[text] = text
            continue
        same = names.get(folded(text), [])
        near = same if len(same) > 1 else nearest(text, {key: one[0] for key, one in names.items()})
        if len(same) == 1:
            found[text] = same[0]
        elif near:
            answer = _near_asked(text, near, row, head, asking)
            if answer is not None:
                found[text] = {ADD: text, LEAVE: None}.get(answer, answer)
        else:
            unknown.append(text)
    if unknown:
        _unknown_asked(unknown, said, known, found, asking)
    return found


def by_folded(names: Iterable[str]) -> dict[str, list[str]]:
    """Map names by their folded text; several may be the same when folded."""
    found: dict[str, list[str]] = {}
    for name in names:
        found.setdefault(folded(name), []).append(name)
    return found


def _near_asked(text: str, near: Sequence[str], row: int, head: str, asking: Asking) -> str | None:
    choices = [Choice(name, name) for name in near[:MOST_NEAR]]
    choices.append(Choice(ADD, say("Add “{name}” as a new source", name=text[:80])))
    words = say("“{name}” is not set up, but is nearly alike. Who gave it?", name=text[:80])
    return asking.ask(f"source:{folded(text)}", "source", words, choices, row, head)


def _unknown_asked(
    unknown: Sequence[str],
    said: Mapping[str, tuple[int, str]],
    known: Known,
    found: dict[str, str | None],
    asking: Asking,
) -> None:
    """Ask once about all names that are like none: add them, leave them out; one may be another."""
    row, head = said[unknown[0]]
    few = len(unknown) == 1
    choices = [
        Choice(ADD, say("Add them as new sources"), ", ".join(one[:40] for one in unknown[:5])),
        Choice(LEAVE, say("Leave their rows out")),
    ]
    if few:
        choices += [Choice(name, name) for name in known.sources[:MOST_LISTED]]
    key = f"source:{folded(unknown[0])}" if few else "sources"
    words = say(
        "{count} names are not set up: {names}.",
        count=len(unknown),
        names=", ".join(f"“{one[:40]}”" for one in unknown[:5]),
    )
    answer = asking.ask(key, "source", words, choices, row, head)
    if answer is None:
        return
    for text in unknown:
        found[text] = {ADD: text, LEAVE: None}.get(answer, answer)


def source_for_all(known: Known, asking: Asking) -> str | None:
    """Ask who gave all of a list that has no column of givers."""
    if not known.sources:
        asking.wrong("column-missing", say("A column says who gave it; none does."), 1)
        return None
    choices = [Choice(name, name) for name in known.sources[:MOST_ASKED]]
    return asking.ask("source", "source", say("No column says who gave it. Who did?"), choices)


def programmes_of(
    said: Mapping[str, tuple[int, str]], known: Known, asking: Asking
) -> dict[str, str]:
    """Find the programme that each text means; empty for none."""
    names, found = by_folded(known.programmes), dict[str, str]()
    for text, (row, head) in said.items():
        same = names.get(folded(text), [])
        if text in known.programmes or len(same) == 1:
            found[text] = text if text in known.programmes else same[0]
            continue
        near = nearest(text, {key: one[0] for key, one in names.items()})
        offered = near[:MOST_NEAR] or list(known.programmes[:MOST_LISTED])
        choices = [Choice(name, name) for name in offered]
        choices.append(Choice(WITHOUT, say("None")))
        words = say("There is no programme “{name}”. Which is it?", name=text[:80])
        answer = asking.ask(f"programme:{folded(text)}", "programme", words, choices, row, head)
        if answer is not None:
            found[text] = "" if answer == WITHOUT else answer
    return found


def polymer_words(known: Known) -> dict[str, str]:
    """Map folded words to codes of the workshop's polymers: codes, names, numbers, usual words."""
    codes = {folded(code): code for code, _, _ in known.polymers}
    words = {word: codes[folded(code)] for word, code in POLYMER_WORDS.items()
             if folded(code) in codes}  # fmt: skip
    for code, name, resin in known.polymers:
        words[folded(name)] = code
        if resin:
            words.update(dict.fromkeys((str(resin), f"0{resin}", f"rc {resin}"), code))
    for word, code in codes.items():
        words[word] = code
    return words


def polymer_and_form(text: str, words: Mapping[str, str]) -> tuple[str, str]:
    """Read a polymer, and a form that stands beside it; empty where a word of it is unknown.

    Examples
    --------
    >>> polymer_and_form("PET bottles", {"pet": "PET"}), polymer_and_form("HDPE?", {"pet": "PET"})
    (('PET', 'bottles'), ('', ''))
    """
    said = folded(text.replace("♳", "1").replace("♴", "2").replace("♶", "4").replace("♷", "5"))
    if said in words:
        return words[said], ""
    each = said.split()
    for cut in range(1, len(each)):
        for first, rest in ((each[:cut], each[cut:]), (each[cut:], each[:cut])):
            polymer = words.get(" ".join(first))
            other = " ".join(rest)
            if polymer and words.get(other) == polymer:
                return polymer, ""
            if polymer and other in FORM_WORDS:
                return polymer, FORM_WORDS[other]
    return "", ""


def polymers_of(
    said: Mapping[str, tuple[int, str]], known: Known, asking: Asking
) -> dict[str, tuple[str, str] | None]:
    """Find the polymer, and the form, that each text means; None leaves its rows out."""
    words, found = polymer_words(known), dict[str, tuple[str, str] | None]()
    for text, (row, head) in said.items():
        polymer, form = polymer_and_form(text, words)
        if polymer:
            found[text] = polymer, form
            continue
        answer = asking.ask(
            f"polymer:{folded(text)}",
            "polymer",
            say("There is no polymer “{code}” in this workshop. Which is it?", code=text[:40]),
            [*_polymers(known), Choice(LEAVE, say("Leave such rows out"))],
            row,
            head,
        )
        if answer is not None:
            found[text] = None if answer == LEAVE else (answer, "")
    return found


def polymer_for_all(known: Known, asking: Asking) -> str | None:
    """Ask which polymer a list is of that has no column of polymers."""
    words = say("No column says which polymer it is. Which is it?")
    return asking.ask("polymer", "polymer", words, _polymers(known))


def _polymers(known: Known) -> list[Choice]:
    return [Choice(code, code, name if name != code else "") for code, name, _ in known.polymers]


def form_of(text: str) -> str:
    """Read a form; empty where there is none of that name.

    Examples
    --------
    >>> form_of("Deckel"), form_of("clean  Bottles"), form_of("heel"), form_of("bricks")
    ('caps', 'clean bottles', '', '')
    """
    said = folded(text)
    exact = {folded(form): form for form in FORMS if form != HEEL}
    return exact.get(said) or FORM_WORDS.get(said, "")
