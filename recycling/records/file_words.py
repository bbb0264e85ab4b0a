"""The words that files of a report add to what it says."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FileWords:
    """Words that a file adds to those of its document, in the document's language.

    Attributes
    ----------
    contents, figures, definitions, signatures : str
        Headings.
    report, reported_by, frozen, period, zone, sequence, supersedes, digest : str
        Labels of the lines that say which report it is.
    until : str
        Between the first and the last day.
    section, sheet, about, table, figure, value, unit, uncertainty, covers, how, note : str
        Headings of columns; `covers` of half-intervals, `uncertainty` of reports from before.
    word, meaning : str
        Headings of the definitions.
    total : str
        Label of a row that sums up where it has none.
    more_rows : str
        Under a table that is too long to be set wholly, with ``{number}``.
    page : str
        Before a page's number.
    signed, date_and_place : str
        Under the lines to sign on.
    rounding : str
        How figures are written on paper.
    check : str
        How a file is checked.
    missing : str
        What a box in place of a letter means.
    made_to : str
        Which standards a PDF was made to.
    decimal : str
        The decimal mark.
    months : tuple of str
        Names of the twelve months.
    hows : tuple of (str, str)
        Where figures come from, each key with its words.
    """

    contents: str
    figures: str
    definitions: str
    signatures: str
    report: str
    reported_by: str
    frozen: str
    period: str
    zone: str
    sequence: str
    supersedes: str
    digest: str
    until: str
    section: str
    sheet: str
    about: str
    table: str
    figure: str
    value: str
    unit: str
    uncertainty: str
    covers: str
    how: str
    note: str
    word: str
    meaning: str
    total: str
    more_rows: str
    page: str
    signed: str
    date_and_place: str
    rounding: str
    check: str
    missing: str
    made_to: str
    decimal: str
    months: tuple[str, ...]
    hows: tuple[tuple[str, str], ...]
