"""Labels for panels, the bags of their pieces and crates, on the studio's sheet of labels."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from textwrap import wrap

from jobs.documents.render import PAPERS, pdf
from jobs.models import Studio

MM_PER_INCH = 25.4
POINT_MM = MM_PER_INCH / 72
PADDING = 3.0
# How wide a letter of DejaVu Sans is, as a share of its size, plain and bold: rather too much than too little.
LETTER, BOLD_LETTER = 0.57, 0.68


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
    """What stands on one label, the most important line first; `address` is that of its code, or empty, and `opens`
    what it opens, in words."""

    head: str
    lines: Sequence[str]
    address: str = ""
    opens: str = "the panel at this bench"


@dataclass(frozen=True, slots=True)
class Step:
    """How large a label is written: points of its head and of its lines, and the side of its code in millimeters."""

    head: float
    lines: float
    code: float


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
    on_one, steps = sheet.columns * sheet.rows, _steps(sheet)
    pages = [
        [
            (*_fitted(label, sheet, steps), *_corner(sheet, place))
            for place, label in enumerate(found[first : first + on_one])
        ]
        for first in range(0, len(found), on_one)
    ]
    width, height = PAPERS[sheet.paper]
    page = {"page_width": f"{width:g}", "page_height": f"{height:g}"}
    measures = {
        "label_width": f"{sheet.width:g}",
        "label_height": f"{sheet.height:g}",
        "steps": [(f"{s.head:g}", f"{s.lines:g}", f"{s.code:g}") for s in steps],
    }
    return pdf("documents/labels.html", {"pages": pages, **page, **measures}, studio=studio, title=title)


def _steps(sheet: Sheet) -> list[Step]:
    """From the largest to what is still read in the hand; a code of 22 mm is read from half an arm's length (common
    practice, no published source)."""
    code = sheet.height - 2 * PADDING
    small = min(code, 22.0)
    sizes = [
        (15.0, 10.0, code),
        (13.0, 8.0, code),
        (13.0, 9.0, small),
        (12.0, 8.0, small),
        (12.0, 7.0, small),
        (10.0, 6.0, small),
        (9.0, 5.5, small),
    ]
    return [Step(*each) for each in sizes]


def _fitted(label: Label, sheet: Sheet, steps: Sequence[Step]) -> tuple[Label, int]:
    """The label and the number of the first step at which all of it has room. What has none even at the last is cut
    off where it says so."""
    for number, step in enumerate(steps):
        if len(_wrapped(label, sheet, step)) <= _room(label, sheet, step):
            return label, number
    lines = _wrapped(label, sheet, steps[-1])[: max(1, _room(label, sheet, steps[-1]))]
    return replace(label, lines=[*lines[:-1], f"{lines[-1][:-2]} …"]), len(steps) - 1


def _wrapped(label: Label, sheet: Sheet, step: Step) -> list[str]:
    across = max(1, int(_across(label, sheet, step) / (step.lines * POINT_MM * LETTER)))
    return [part for line in label.lines for part in wrap(line, across) or [""]]


def _across(label: Label, sheet: Sheet, step: Step) -> float:
    """Millimeters beside the code."""
    return sheet.width - 2 * PADDING - (step.code + 1 if label.address else 0)


def _room(label: Label, sheet: Sheet, step: Step) -> int:
    """How many lines there is room for below the head."""
    letters = max(1, int(_across(label, sheet, step) / (step.head * POINT_MM * BOLD_LETTER)))
    head = len(wrap(label.head, letters)) * step.head * POINT_MM * 1.2 + 1
    return int((sheet.height - 2 * PADDING - head) / (step.lines * POINT_MM * 1.3))


def _corner(sheet: Sheet, place: int) -> tuple[str, str]:
    row, column = divmod(place, sheet.columns)
    left = sheet.left + column * (sheet.width + sheet.across)
    top = sheet.top + row * (sheet.height + sheet.down)
    return f"{left:.2f}", f"{top:.2f}"
