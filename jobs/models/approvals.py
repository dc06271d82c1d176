"""Which drawings of a job its customer has approved, and which are to be approved: by what a drawing shows."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from .customer_links import DrawingApproval
from .kinds import GateKind
from .orders import Gate, Job, Panel


def shown_of(panel: Panel) -> dict[str, Any]:
    """What a customer approves of a panel: its sizes in millimeters, how many there are, and its drawing with the
    glass of each piece. Its name and its hours are none of it."""
    return {
        "width_mm": f"{panel.width_mm:.2f}",
        "height_mm": f"{panel.height_mm:.2f}",
        "thickness_mm": f"{panel.thickness_mm:.2f}",
        "copies": panel.copies,
        "drawing": panel.drawing,
    }


def hash_of(shown: dict[str, Any]) -> str:
    """SHA-256, the same whichever database the numbers have been through; to a thousandth of a millimeter."""
    text = json.dumps(_plain(shown), sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    match value:
        case bool() | None | str():
            return value
        case int() | float():
            return f"{value:.3f}"
        case dict():
            return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A panel's drawing as it is now, and its approvals, the last one first. `digest` is empty without a drawing."""

    panel: Panel
    digest: str
    approvals: tuple[DrawingApproval, ...]

    @property
    def approved(self) -> DrawingApproval | None:
        """The standing approval of exactly this drawing."""
        return next((a for a in self.approvals if a.digest == self.digest and a.withdrawn_at is None), None)

    @property
    def changed_since(self) -> DrawingApproval | None:
        """The last approval, where it was one of another drawing than this."""
        last = self.approvals[0] if self.approvals else None
        return last if last and not self.approved and last.digest != self.digest else None


@dataclass(frozen=True, slots=True)
class Drawings:
    """All drawings of a job; `gate` is the wait for their approval, if the job has one."""

    rows: tuple[Drawing, ...]
    gate: Gate | None

    @property
    def asked(self) -> tuple[Drawing, ...]:
        """What the customer is asked to approve now: nothing where the job does not wait for it."""
        if self.gate is None or self.gate.cleared is not None:
            return ()
        return tuple(row for row in self.rows if row.digest and row.approved is None)

    @property
    def all_approved(self) -> bool:
        return bool(self.rows) and all(row.approved for row in self.rows)


def read_drawings(job: Job, panels: Iterable[Panel] | None = None) -> Drawings:
    """Three queries at most, whatever the number of panels."""
    if panels is None:
        panels = job.panels.order_by("number")
    panels = list(panels)
    found: dict[int, list[DrawingApproval]] = {}
    rows = DrawingApproval.objects.filter(panel__in=panels).defer("shown").select_related("pattern")
    for approval in rows.order_by("-at", "-pk"):
        found.setdefault(approval.panel_id, []).append(approval)
    return Drawings(
        tuple(
            Drawing(panel, hash_of(shown_of(panel)) if panel.drawing else "", tuple(found.get(panel.pk, ())))
            for panel in panels
        ),
        job.gates.filter(kind=GateKind.DRAWING).first(),
    )
