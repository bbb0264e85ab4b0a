"""What reading a list finds: questions with the answers given, problems, and what is left out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shared.errors import Collected, Problem

MOST_PROBLEMS = 1_000


@dataclass(frozen=True)
class Choice:
    """One answer to a question: its key, its words, and what it makes of an example."""

    key: str
    label: str
    example: str = ""


@dataclass(frozen=True)
class Question:
    """What a list leaves open: asked once for a column or a kind, never for each row."""

    key: str
    about: str
    detail: str
    choices: Sequence[Choice]
    row: int = 0
    column: str = ""


@dataclass
class Asking:
    """Questions and the answers that were given to them, problems, rows that are left out.

    Attributes
    ----------
    answers : mapping of str to str
        A choice's key by a question's key.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    remembered: Mapping[str, str] = field(default_factory=dict)
    questions: dict[str, Question] = field(default_factory=dict)
    answered: dict[str, str] = field(default_factory=dict)
    found: Collected = field(default_factory=Collected)
    skipped: dict[int, str] = field(default_factory=dict)
    named: set[str] = field(default_factory=set)

    def ask(
        self,
        key: str,
        about: str,
        detail: str,
        choices: Sequence[Choice],
        row: int = 0,
        column: str = "",
    ) -> str | None:
        """Give the answer to a question, or put it and give None."""
        for given in (self.answers, self.remembered):
            answer = given.get(key)
            if any(one.key == answer for one in choices):
                assert answer is not None
                self.answered[key] = answer
                return answer
        self.questions.setdefault(key, Question(key, about, detail, choices, row, column))
        return None

    def wrong(self, code: str, detail: str, row: int, column: str = "") -> None:
        """Note what is wrong with a row, or a column of it: of each cell the first thing."""
        pointer = f"/{row}/{column}" if column else f"/{row}"
        if pointer not in self.named and len(self.found.problems) < MOST_PROBLEMS:
            self.named.add(pointer)
            self.found.problems.append(Problem(code, detail, pointer))
