"""Labels as files: a PDF, a page as SVG, one label as SVG; the same for pages and programs."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from recycling.figures.label_sheets import check_print, pages_of
from recycling.figures.labels import label_svg, labels_pdf, labels_svg
from recycling.queries.labels.labels import labels_of
from recycling.records.actors import Actor
from recycling.records.labels.labels import LabelPrint
from shared.errors import Collected, Unknown
from shared.said import say


def labels_as_pdf(actor: Actor, codes: Sequence[str], wanted: LabelPrint) -> bytes:
    """Make a PDF of the labels of lots; a run or collection stands for its lots.

    Raises
    ------
    Unknown
        When a code names nothing in this workshop.
    Refused
        When there is no such sheet, start or offset, or the labels are too many or none.
    """
    labels = _checked(actor, codes, wanted)
    return labels_pdf(labels, wanted, _("Labels"))


def labels_page_as_svg(
    actor: Actor, codes: Sequence[str], wanted: LabelPrint, page: int = 1
) -> bytes:
    """Draw one page of labels, counted from 1.

    Raises
    ------
    Unknown
        When a code names nothing in this workshop, or there is no such page.
    Refused
        When there is no such sheet, start or offset, or the labels are too many or none.
    """
    labels = _checked(actor, codes, wanted)
    pages = pages_of(len(labels) * wanted.copies, wanted)
    if not 1 <= page <= pages:
        raise Unknown.because("page-unknown", say("There are {pages} pages.", pages=pages))
    return labels_svg(labels, wanted, _("Labels"), page - 1)


def lot_label_as_svg(actor: Actor, code: str, sheet: str = "62x29") -> bytes:
    """Draw the label of one lot, in the size of a sheet's labels.

    Raises
    ------
    Unknown
        When there is no such lot in this workshop.
    Refused
        When there is no such sheet.
    """
    (label, *_more) = _checked(actor, [code], LabelPrint(sheet))
    return label_svg(label, sheet)


def check_labels(wanted: LabelPrint, lots: int) -> None:
    """Refuse what cannot be printed.

    Raises
    ------
    Refused
        When there is no such sheet, start or offset, or the labels are too many or none.
    """
    found = Collected()
    if not lots:
        found.add("labels-none", "Choose at least one lot.", "/lots")
    check_print(wanted, lots, found)
    found.refuse()


def _checked(actor: Actor, codes: Sequence[str], wanted: LabelPrint) -> list:
    lots = labels_of(actor, codes)
    check_labels(wanted, len(lots))
    return [lot.label for lot in lots]
