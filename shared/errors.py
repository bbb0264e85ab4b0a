"""What is said when something cannot be recorded: a code, a place and plain words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with an entry.

    Attributes
    ----------
    code : str
        A stable name from ``docs/reference/errors.md``, for programs.
    detail : str
        What is wrong and what to do about it, for people.
    pointer : str
        JSON pointer (RFC 6901) to the part of the entry that is meant; empty for the whole.
    suggestions : tuple of str
        What may be meant there instead, as it would be typed.
    """

    code: str
    detail: str
    pointer: str = ""
    suggestions: tuple[str, ...] = ()


class Refused(Exception):
    """An entry that was not recorded; nothing of it was written.

    Parameters
    ----------
    problems : Problem
        Everything that is wrong with the entry, in the order of the entry's fields.
    """

    status = 422
    title = "Not recorded"

    def __init__(self, *problems: Problem):
        super().__init__("; ".join(problem.detail for problem in problems))
        self.problems = problems

    @classmethod
    def because(cls, code: str, detail: str, pointer: str = "") -> Self:
        """Build a refusal with a single problem."""
        return cls(Problem(code, detail, pointer))


class Unknown(Refused):
    """What was asked for does not exist in this workshop."""

    status = 404
    title = "Not found"


class Forbidden(Refused):
    """The person or key may not do this."""

    status = 403
    title = "Not allowed"


class Conflict(Refused):
    """Somebody else changed the same thing, or the same key is still being worked on."""

    status = 409
    title = "Changed meanwhile"


class TooOften(Refused):
    """It was tried too often lately; the same may be sent again later."""

    status = 429
    title = "Too often"


class Unavailable(Refused):
    """The book could not be reached or was too busy; the same request may be sent again."""

    status = 503
    title = "Try again"


class Collected:
    """Problems found so far, so that a person sees all of them at once.

    Examples
    --------
    >>> found = Collected()
    >>> found.add("mass-not-positive", "A mass must be more than zero.", "/bags/0/mass_mg")
    >>> found.any
    True
    """

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def add(self, code: str, detail: str, pointer: str = "") -> None:
        """Note one more problem."""
        self.problems.append(Problem(code, detail, pointer))

    @property
    def any(self) -> bool:
        """Whether anything is wrong."""
        return bool(self.problems)

    def refuse(self) -> None:
        """Raise :class:`Refused` when anything is wrong."""
        if self.problems:
            raise Refused(*self.problems)
