"""A commission that waits for its customer's approval, and its link. All invented."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.customer_links import Shared, make_link
from jobs.models import Account, CustomerLink, Job, Panel, Promise, Quote
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


def text(answer: HttpResponse) -> str:
    return answer.content.decode()


def address(link: CustomerLink, rest: str = "") -> str:
    return f"/c/{link.token}/{rest}"


def typed(job: Job, **more: Any) -> dict[str, Any]:
    seen = " ".join(f"{number}-{digest}" for number, digest in seen_of(job).items())
    return {"name": "Anna Berg", "looked": "on", "seen": seen} | more


def promise(job: Job, by: Account) -> None:
    Promise.objects.create(
        job=job, day=date(2026, 6, 15), given_at=cast.at(2), given_by=by, told="Vicar", reason="the glass"
    )


def make_quote(job: Job, by: Account) -> Quote:
    return Quote.objects.create(
        job=job,
        version=1,
        state="accepted",
        made_at=cast.at(2),
        made_by=by,
        sent_at=cast.at(2),
        sent_by=by,
        answered_at=cast.at(3),
        answered_by=by,
        valid_until=date(2026, 5, 1),
        net=Decimal("4812.34"),
        total=Decimal("4812.34"),
        deposit=Decimal("2406.17"),
        frozen={},
    )
