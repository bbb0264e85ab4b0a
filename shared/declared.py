"""A field that is declared once, on its entry: what it means, and its name wherever it is met."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from types import MappingProxyType
from typing import Any

KEY = "declared"


@dataclass(frozen=True, kw_only=True)
class Declared:
    """All that pages, API, lists and files of entries ask of a field beside its type.

    Attributes
    ----------
    means : str
        What it is, in one sentence, as the API explains it.
    label, help : str
        What pages call it and say of it; message ids, which `manage.py catalogue` collects.
    unit : str
        Unit of a number.
    longest : int
        Most characters of a text that is kept as told; 0 for what is no such text.
    kinds : tuple of str
        Kinds of entry whose page and API body have it; empty for all.
    needed, file_needs : bool
        Whether no entry of these kinds goes without it, and whether a file of entries says it
        even where there is a usual value.
    control : str
        Name of its control on the page where it is not its own.
    by_address : bool
        Whether page and body need no place for it, because their address says it.
    api, file : str
        Its name in a body and in a file of entries where it is not its own.
    columns : tuple of str
        Heads of its columns in lists, the usual one first.
    not_in_lists, not_in_files : str
        Why a list, or a file of entries, does not have it.
    by_kind : mapping
        What of all this is otherwise for a kind.
    """

    means: str
    label: str = ""
    help: str = ""
    unit: str = ""
    longest: int = 0
    kinds: tuple[str, ...] = ()
    needed: bool = False
    file_needs: bool = False
    control: str = ""
    by_address: bool = False
    api: str = ""
    file: str = ""
    columns: tuple[str, ...] = ()
    not_in_lists: str = ""
    not_in_files: str = ""
    by_kind: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def of(self, kind: str) -> Declared:
        """Give what holds for one kind of entry."""
        said: Mapping[str, str] = self.by_kind.get(kind, {})
        return replace(self, **said)  # type: ignore[arg-type]

    @property
    def always(self) -> bool:
        """Whether every kind of entry needs it."""
        return self.needed and not self.kinds


def declare(declared: Declared) -> Mapping[str, Declared]:
    """Write a declaration as the metadata of a dataclass's field."""
    return {KEY: declared}


@functools.cache
def declared_in(entry: type) -> Mapping[str, Declared]:
    """Map the declared fields of an entry to their declarations: texts kept as told come last.

    Examples
    --------
    >>> from dataclasses import dataclass, field
    >>> @dataclass
    ... class Parcel:
    ...     note: str = field(default="", metadata=declare(Declared(means="What else.", longest=9)))
    >>> declared_in(Parcel)["note"].means, lengths_in(Parcel)
    ('What else.', {'note': 9})
    """
    found = {one.name: one.metadata[KEY] for one in fields(entry) if KEY in one.metadata}
    return MappingProxyType(dict(sorted(found.items(), key=lambda item: bool(item[1].longest))))


def lengths_in(entry: type) -> dict[str, int]:
    """Map the texts of an entry that are kept as told to their most characters."""
    return {name: one.longest for name, one in declared_in(entry).items() if one.longest}


def texts_of(entry: type, holder: Any) -> dict[str, Any]:
    """Take from whatever holds them the texts of an entry that are kept as told."""
    return {name: getattr(holder, name) for name in lengths_in(entry)}


def heads_of(entry: type) -> tuple[str, ...]:
    """List the heads of the columns that lists have for an entry, figures last."""
    ordered = sorted(declared_in(entry).values(), key=lambda one: bool(one.unit))
    return tuple(head for one in ordered for head in one.columns)


def words_in(entry: type) -> list[str]:
    """List the labels and helps of an entry, which pages say in the reader's language."""
    each = [one.of(kind) for one in declared_in(entry).values() for kind in ("", *one.by_kind)]
    return [word for one in each for word in (one.label, one.help) if word]
