"""What can be said of a file of a report without the server that made it."""

from __future__ import annotations

from dataclasses import dataclass

GENUINE, INTACT, CHANGED, OPEN, NONE = "genuine", "intact", "changed", "open", "none"
"""As made of its figures; its figures whole, its setting not ours; not so, or of other figures than
those given; nothing to hold it to; no report."""


@dataclass(frozen=True)
class FileCheck:
    """What was found in a file.

    Attributes
    ----------
    verdict : str
        "genuine": every byte is what the program makes of the figures; "intact": the figures that
        it carries have the SHA-256 that it says, and are those it is held to, but it has another
        layout than this version sets, so that its bytes cannot be compared; "changed": it is not
        as it was made, or its figures are not those it is held to; "open": it carries no figures
        in full, and none were given to hold it to; "none": it is no file of a report.
    kind : str
        "pdf", "xlsx", "csv", "json", "html"; empty for none.
    report : str
        Code of the report that it says it belongs to.
    workshop : str
        Who reports, where the file carries it.
    says_digest : str
        The SHA-256 of the figures that it says it was made of; empty where it says none.
    digest : str
        The SHA-256 of the figures that it carries, or of those it was held to; empty for neither.
    file_digest : str
        SHA-256 of the file itself.
    remade : bool or None
        Whether it is bit for bit what this program makes of the figures; None without figures.
    differences : tuple of str
        Figures that are not as they should be, each in words.
    """

    verdict: str
    kind: str
    report: str
    workshop: str
    says_digest: str
    digest: str
    file_digest: str
    remade: bool | None
    differences: tuple[str, ...] = ()
