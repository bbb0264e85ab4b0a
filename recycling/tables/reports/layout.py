"""How a report's files are laid out, as a declared number, and the mark by which a file names it.

Figures are the same for every version that reads them; where lines break and which words stand
around them may change. The number says whether bytes can be compared. It is raised by hand whenever
the bytes of a file change (`tests/reports/test_layout.py` sees to it), and by nothing else: moving
or renaming a module, or a comment in it, must not cost an old file its verdict.
"""

from __future__ import annotations

LAYOUT = 1
MARK = f"layout:{LAYOUT}"
"""What a file says that is set today."""
BEFORE = "set:"
"""How the mark begins of a file from before layouts were declared: a digest of source files."""


def keywords(code: str, digest: str, mark: str) -> list[str]:
    """Return what a file says of itself: its report, the SHA-256 of the figures, its layout."""
    return [code, f"sha256:{digest}", mark]


def can_be_set_again(mark: str) -> bool:
    """Say whether this version may be able to set a file that bears a mark, byte for byte.

    Layouts were not told apart before they were declared. Setting such a file again can prove it
    genuine, but where the bytes differ it proves nothing.

    Examples
    --------
    >>> can_be_set_again(MARK), can_be_set_again("set:0123456789ab"), can_be_set_again("layout:9")
    (True, True, False)
    """
    return mark == MARK or mark.startswith(BEFORE)
