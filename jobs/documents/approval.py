"""The approval sheet: each drawing at its scale with its glass, a line to sign, and which version that is."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from jobs.models import Job, Panel, Pattern, Studio
from jobs.models.approvals import hash_of, shown_of

from .drawing import UNCOLORED, Drawn, drawn
from .render import lay_out, write

# What is left of the smaller of A4 and Letter beside head, legend and signature, in mm.
WIDTH_MM = Decimal(174)
HEIGHT_MM = Decimal(148)
LEGEND_ROW_MM = Decimal(7)
# A line of the heading and of what stands below it takes so much, and holds so many letters of DejaVu Sans.
HEAD_MM, HEAD_LETTERS = Decimal("7.2"), 46
LEAD_MM, LEAD_LETTERS = Decimal("4.7"), 92
# As many letters of the hash as the customer's page shows of a version.
TOLD = 8


@dataclass(frozen=True, slots=True)
class Sheet:
    """`bar`: millimeters on paper of the bar that stands for `bar_words`; `pattern`: number of the accepted pattern."""

    drawn: Drawn
    version: str
    pattern: int | None
    bar: str
    bar_words: str

    @property
    def colored(self) -> bool:
        return any(glass.color != UNCOLORED for glass in self.drawn.glasses)


def version_of(panel: Panel) -> str:
    """The short hash that names the stored drawing, its size and its glass."""
    return hash_of(shown_of(panel))[:TOLD]


def approval_sheet(job: Job, *, studio: Studio, day: date | None = None) -> bytes:
    """A sheet for each panel that is drawn; the others are listed as not drawn yet."""
    return write(approval_pages(job, list(job.panels.order_by("number")), studio=studio, day=day))


def approval_pages(job: Job, panels: Sequence[Panel], *, studio: Studio, day: date | None = None) -> Any:
    """The sheets of these panels of the job, laid out."""
    for panel in panels:
        panel.job = job
    rows = Pattern.objects.filter(panel__in=panels).exclude(accepted_at=None).order_by("version")
    patterns = dict(rows.values_list("panel", "version"))
    shown = [panel for panel in panels if panel.drawing]
    context = {
        "job": job,
        "day": day,
        "sheets": [_sheet(panel, patterns.get(panel.pk), studio) for panel in shown],
        "missing": [panel for panel in panels if not panel.drawing],
    }
    return lay_out("documents/approval.html", context, studio=studio, title=f"For approval: {job.number}")


def _sheet(panel: Panel, pattern: int | None, studio: Studio) -> Sheet:
    glasses = len({piece.get("glass") for piece in (panel.drawing or {})["pieces"]})
    room = max(HEIGHT_MM - LEGEND_ROW_MM * glasses - _more_lines(panel), HEIGHT_MM / 2)
    made = drawn(panel, WIDTH_MM, room, studio.units)
    bar, words = _bar(studio.units, made.scale.ratio)
    return Sheet(made, version_of(panel), pattern, f"{bar:.3f}", words)


def _more_lines(panel: Panel) -> Decimal:
    """What long names take away of the room: the lines beyond one above the drawing and two below the heading."""
    head = len(f"For approval: {panel.code} {panel.name}") // HEAD_LETTERS
    lead = max(0, (len(f"{panel.job.title}{panel.job.customer}") + 60) // LEAD_LETTERS - 1)
    return head * HEAD_MM + lead * LEAD_MM


def _bar(unit: str, ratio: int) -> tuple[Decimal, str]:
    """A round length that is from 20 to about 100 mm on paper: (mm on paper, words)."""
    lengths: Iterable[tuple[int, str]]
    if unit == Studio.Units.INCH:
        lengths = [(4, "4 in"), (12, "1 ft"), (36, "3 ft"), (120, "10 ft")]
        steps = [(Decimal("25.4") * many, words) for many, words in lengths]
    else:
        lengths = [(100, "100 mm"), (500, "500 mm"), (1000, "1 m"), (2000, "2 m"), (5000, "5 m")]
        steps = [(Decimal(many), words) for many, words in lengths]
    mm, words = next((step for step in steps if step[0] / ratio >= 20), steps[-1])
    return mm / ratio, words
