"""A commission that waits for its customer's approval, and its link. All invented."""

from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.customer_links import Shared, make_link
from jobs.models import Account, CustomerLink, Job, Panel
from jobs.models.approvals import read_drawings
from tests import cast

# Two panes of the size of the cast's panels: one beveled, one of a glass that nobody has told the color of.
DRAWING: dict[str, Any] = {
    "width": 600,
    "height": 900,
    "pieces": [
        {
            "points": [[0, 0], [600, 0], [600, 450.5], [0, 450.5]],
            "glass": "Plate",
            "color": "#dfeae6",
            "beveled": True,
        },
        {"points": [[0, 450.5], [600, 450.5], [600, 900], [0, 900]], "glass": "Rose", "beveled": False},
    ],
}


def make_commission(number: str = "0412", *, panels: int = 1, **values: Any) -> Job:
    """An ordered job with drawn panels, which waits for the approval of its drawings."""
    job = cast.make_job(number, **values)
    for place in range(1, panels + 1):
        cast.make_panel(job, place, drawing=DRAWING)
    cast.make_gate(job, "drawing", expected=date(2026, 3, 20))
    return job


def make_customer_link(job: Job, by: Account, **shared: Any) -> CustomerLink:
    """A link made now, which opens for the half year to come."""
    values = {"last_day": timezone.localdate() + timedelta(days=180)} | shared
    return make_link(job, Shared(**values), by=Actor(account=by), at=timezone.now())


def seen_of(job: Job) -> dict[int, str]:
    """What a customer who looks now sees: the hash of each drawing by the number of its panel."""
    return {row.panel.number: row.digest for row in read_drawings(job).rows if row.digest}


def redraw(panel: Panel) -> None:
    """Another color in one pane, as a new drawing has."""
    pieces = [DRAWING["pieces"][0], DRAWING["pieces"][1] | {"glass": "Amber"}]
    panel.drawing = DRAWING | {"pieces": pieces}
    panel.save(update_fields=["drawing"])
