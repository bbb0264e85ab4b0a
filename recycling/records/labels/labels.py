"""Labels: what stands on one, the sheets they are printed on, and how a sheet is filled."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Label:
    """What stands on one label.

    Attributes
    ----------
    code : str
        The lot's code, shown large.
    shape : str
        Key of the form's shape.
    square : str
        What the square code holds.
    what : str
        What it is, in words.
    lines : tuple of str
        Facts: what it is made of, net mass, date, who it is from.
    caution : str
        What to beware of, empty for none.
    missing : str
        What is said where the fonts lack a sign and a box stands for it.
    """

    code: str
    shape: str
    square: str
    what: str
    lines: tuple[str, ...]
    caution: str = ""
    missing: str = ""


@dataclass(frozen=True)
class LabelSheet:
    """A page and the grid of labels on it; all lengths in mm.

    Attributes
    ----------
    key : str
        Its name in addresses: page and grid, or width and height of a single label.
    page : str
        "A4", "Letter" or "single".
    page_width_mm, page_height_mm : float
        The page.
    columns, rows : int
        How many labels are beside and below each other.
    width_mm, height_mm : float
        One label.
    left_mm, top_mm : float
        From the page's corner to the first label's.
    step_x_mm, step_y_mm : float
        From one label's corner to the next one's.
    margin_mm : float
        Kept free at each label's edge.
    """

    key: str
    page: str
    page_width_mm: float
    page_height_mm: float
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    step_x_mm: float
    step_y_mm: float
    margin_mm: float

    @property
    def labels(self) -> int:
        """How many labels are on a page."""
        return self.columns * self.rows


@dataclass(frozen=True)
class LabelPrint:
    """How labels are to be printed.

    Attributes
    ----------
    sheet : str
        Key of a sheet.
    start : int
        Place of the first label on the first page, 1 is the top left one; those before are used.
    copies : int
        How often each label is printed.
    right_mm, down_mm : float
        By how much the printer has to be put right, mm; minus is left and up.
    """

    sheet: str = "a4-3x8"
    start: int = 1
    copies: int = 1
    right_mm: float = 0.0
    down_mm: float = 0.0


@dataclass(frozen=True)
class LabelLot:
    """A lot that can get a label.

    Attributes
    ----------
    code, what : str
        Its code, and what it is in words.
    public : bool
        Whether its square opens its page for anybody.
    may_be_public : bool
        Whether it could: it is a spool.
    label : Label
        What stands on its label.
    """

    code: str
    what: str
    public: bool
    may_be_public: bool
    label: Label
