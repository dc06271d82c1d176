"""Photos of a few panels of the demo: their own drawings painted as glass on a light table. Nothing in them is real."""

from __future__ import annotations

import random
from datetime import timedelta
from io import BytesIO
from typing import Any

from PIL import Image, ImageDraw, ImageFilter

from jobs import models
from jobs.actions import Actor
from jobs.actions.photos import add_photo, share_photo
from jobs.management.demo.rows import Rows, moment
from jobs.pictures import clean

PANELS, WIDE, HIGH, MARGIN = 3, 1200, 900, 70
TABLE, CAME, CLEAR = (236, 238, 230), (52, 58, 62), "#dfe8e4"
# How much of the panel lies on the table, and what is said of it; the last one is shared with the customer.
TAKEN = ((0.45, "Laid out on the light table"), (1.0, "All the glass in its place"))


def write_photos(rows: Rows, office: models.Account) -> None:
    """Two of each of some panels of open jobs that somebody has worked on, those with a link for the customer first."""
    now = moment(rows.now)
    chance = random.Random(rows.now)  # noqa: S311  # nosec B311  # Shades of painted glass.
    started = models.Operation.objects.filter(finished_at__isnull=False, job__stage=models.Stage.ORDERED)
    panels = models.Panel.objects.filter(operations__in=started, drawing__isnull=False).distinct()
    linked = panels.filter(job__customer_links__revoked_at=None, job__customer_links__isnull=False)
    found = dict.fromkeys([*linked.select_related("job")[:PANELS], *panels.select_related("job")[:PANELS]])
    for panel in list(found)[:PANELS]:
        last = panel.operations.filter(finished_at__isnull=False).order_by("-finished_at")[0]
        entry = last.entries.order_by("-started_at").first()
        by = Actor(account=None if entry else office, person=entry.person if entry else None)
        for place, (share, words) in enumerate(TAKEN):
            at = min(last.finished_at + timedelta(minutes=3 + place), now)  # type: ignore[operator]
            photo = add_photo(
                panel, clean(_painted(panel.drawing or {}, share, chance)), caption=words, by=by, at=at
            )
        share_photo(photo, by=Actor(account=office), at=now)


def _painted(drawing: dict[str, Any], share: float, chance: random.Random) -> bytes:
    """A JPEG: the first `share` of the pieces in uneven glass, with the came between them, under a warm light."""
    scale = min((WIDE - 2 * MARGIN) / drawing["width"], (HIGH - 2 * MARGIN) / drawing["height"])
    left, top = (WIDE - drawing["width"] * scale) / 2, (HIGH - drawing["height"] * scale) / 2
    image = Image.new("RGB", (WIDE, HIGH), TABLE)
    draw = ImageDraw.Draw(image)
    pieces = drawing["pieces"]
    for piece in pieces[: max(1, round(len(pieces) * share))]:
        points = [(left + x * scale, top + y * scale) for x, y in piece["points"]]
        draw.polygon(points, fill=_uneven(piece.get("color") or CLEAR, chance))
        draw.line([*points, points[0]], fill=CAME, width=max(2, round(6 * scale)), joint="curve")
    grain = Image.effect_noise((WIDE, HIGH), 14).convert("RGB")
    light = Image.radial_gradient("L").resize((WIDE, HIGH)).point(lambda value: value // 5)
    image = Image.blend(image.filter(ImageFilter.GaussianBlur(0.7)), grain, 0.05)
    image.paste((38, 34, 30), (0, 0), light)
    out = BytesIO()
    image.save(out, "JPEG", quality=88)
    return out.getvalue()


def _uneven(color: str, chance: random.Random) -> tuple[int, ...]:
    shade = chance.uniform(0.88, 1.06)
    return tuple(min(255, int(int(color[n : n + 2], 16) * shade)) for n in (1, 3, 5))
