"""Labels for a panel and the bags of its pieces, on the studio's sheet of labels."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jobs.documents.render import PAPERS, pdf
from jobs.models import Studio

MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet of labels in millimeters: the first label's corner, their size, and the gaps between them."""

    paper: str
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    across: float
    down: float


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label; `address` is that of its code, or empty."""

    head: str
    lines: Sequence[str]
    address: str = ""


# Four by two inches twice five times on US Letter, and 70 by 37 mm thrice eight times on A4: common practice, no
# published source.
USUAL = {
    Studio.Labels.LETTER_10: Sheet("letter", 2, 5, 4 * MM_PER_INCH, 2 * MM_PER_INCH, 4.0, 12.7, 4.7, 0),
    Studio.Labels.A4_24: Sheet("a4", 3, 8, 70, 37, 0, 0.5, 0, 0),
}


def sheet_of(studio: Studio) -> Sheet:
    if studio.labels in USUAL:
        return USUAL[Studio.Labels(studio.labels)]
    measures = (
        studio.label_width_mm,
        studio.label_height_mm,
        studio.label_left_mm,
        studio.label_top_mm,
        studio.label_across_mm,
        studio.label_down_mm,
    )
    return Sheet(studio.paper, studio.label_columns, studio.label_rows, *map(float, measures))


def labels(found: Iterable[Label], *, studio: Studio, title: str) -> bytes:
    """The labels, row by row on as many sheets as they take; every length in the template is one of the sheet."""
    sheet, found = sheet_of(studio), list(found)
    on_one = sheet.columns * sheet.rows
    pages = [
        [(label, *_corner(sheet, place)) for place, label in enumerate(found[first : first + on_one])]
        for first in range(0, len(found), on_one)
    ]
    width, height = PAPERS[sheet.paper]
    page = {"page_width": f"{width:g}", "page_height": f"{height:g}"}
    measures = {
        "label_width": f"{sheet.width:g}",
        "label_height": f"{sheet.height:g}",
        "code_side": f"{sheet.height - 6:g}",
    }
    return pdf("documents/labels.html", {"pages": pages, **page, **measures}, studio=studio, title=title)


def _corner(sheet: Sheet, place: int) -> tuple[str, str]:
    row, column = divmod(place, sheet.columns)
    left = sheet.left + column * (sheet.width + sheet.across)
    top = sheet.top + row * (sheet.height + sheet.down)
    return f"{left:.2f}", f"{top:.2f}"
