"""Takeoffs: the quantities of a panel, proposed from its size or measured from its pattern, and what holds now."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from jobs import models
from jobs.estimating.takeoff import (
    REFERENCE_BEVEL_MM,
    Came,
    Glass,
    Takeoff,
    TakeoffError,
    mass_kg,
    propose,
)
from jobs.models import Panel
from jobs.models.said import Quantities

from .base import Actor, Refused, record
from .graph import lock_job


def came_of(row: models.Came) -> Came:
    """A profile as estimating knows it."""
    mass = None if row.kg_per_m is None else float(row.kg_per_m)
    return Came(row.profile, float(row.face_mm), float(row.heart_mm), mass)


def glass_of(row: models.Glass, *, beveled: bool, bevel_mm: Decimal) -> Glass:
    """A glass as estimating knows it, beveled so wide or not at all."""
    return Glass(row.name, float(row.thickness_mm), float(bevel_mm) if beveled else None)


def current_takeoff(panel: Panel) -> Takeoff | None:
    """The takeoff that holds, of one copy; None where nobody has taken the panel off yet."""
    row = panel.takeoffs.order_by("-version").first()
    return Takeoff.from_json(row.numbers) if row else None


def default_cames() -> tuple[models.Came, models.Came]:
    """The profiles that a panel is built of unless somebody says otherwise: inside and border."""
    cames = models.Came.objects.filter(active=True)
    inner = cames.filter(inner=True).first()
    if inner is None:
        raise Refused("There is no came yet: the lead has to enter a profile first.", "came")
    return inner, cames.filter(border=True).first() or inner


@dataclass(frozen=True, slots=True)
class Usual:
    """What a panel is made of unless somebody says otherwise; read once for many panels."""

    inner: Came
    border: Came
    glasses: Sequence[models.Glass] = ()

    def propose(self, panel: Panel, *, beveled: bool | None = None) -> Takeoff:
        """Sensible quantities from the panel's size and pieces; `beveled` says so where it is known."""
        glasses = [row for row in self.glasses if beveled is None or row.beveled or not beveled]
        row = next((row for row in glasses if row.thickness_mm == panel.thickness_mm), None)
        row = row or next(iter(glasses), None)
        if row is not None:
            glass = glass_of(row, beveled=row.beveled if beveled is None else beveled, bevel_mm=row.bevel_mm)
        else:
            glass = Glass("glass", float(panel.thickness_mm), REFERENCE_BEVEL_MM if beveled else None)
        return propose(
            float(panel.width_mm),
            float(panel.height_mm),
            panel.pieces,
            glass=glass,
            came=self.inner,
            border=self.border,
        )


def read_usual() -> Usual:
    inner, border = default_cames()
    return Usual(came_of(inner), came_of(border), list(models.Glass.objects.filter(active=True)))


def proposed_takeoff(panel: Panel) -> Takeoff:
    """Sensible quantities from the panel's size and pieces, in the studio's usual glass and came."""
    return read_usual().propose(panel)


@transaction.atomic
def set_takeoff(panel: Panel, given: Quantities, *, by: Actor, at: datetime) -> models.Takeoff:
    """Take a panel off by hand. What was taken off before is kept as an earlier version."""
    lock_job(panel.job)
    panel = Panel.objects.select_for_update(of=("self",)).select_related("job").get(pk=panel.pk)
    try:
        takeoff = _added_up(panel, given)
    except TakeoffError as error:
        raise Refused(str(error)) from error
    return write_takeoff(panel, takeoff, None, by=by, at=at)


def _added_up(panel: Panel, given: Quantities) -> Takeoff:
    cames = ((given.inner, given.inner_mm), (given.border, given.border_mm))
    return Takeoff(
        width_mm=float(panel.width_mm),
        height_mm=float(panel.height_mm),
        pieces=panel.pieces,
        beveled_mm=_together(((thick, wide), length) for thick, wide, length in given.bevels),
        came_mm=_together((came.profile, length) for came, length in cames),
        border_mm=given.border_mm,
        inner_mm=given.inner_mm,
        joints=given.joints,
        carved_mm2=_together(given.carved),
        curved_edges=given.curved_edges,
        inner_corners=given.inner_corners,
        hard_pieces=given.hard_pieces,
        glass_mm2=_together((glass.name, area) for glass, area in given.glasses),
        mass_kg=mass_kg(
            ((float(glass.thickness_mm), area) for glass, area in given.glasses),
            ((came_of(came), length) for came, length in cames),
        ),
    )


def _together[Key](pairs: Iterable[tuple[Key, float]]) -> dict[Key, float]:
    total: dict[Key, float] = {}
    for key, amount in pairs:
        if amount:
            total[key] = total.get(key, 0.0) + amount
    return total


def write_takeoff(
    panel: Panel, takeoff: Takeoff, pattern: models.Pattern | None, *, by: Actor, at: datetime
) -> models.Takeoff:
    """The next version, in the transaction of the action that locked the panel's job."""
    last = panel.takeoffs.aggregate(last=Max("version"))["last"] or 0
    row = models.Takeoff.objects.create(
        panel=panel,
        version=last + 1,
        numbers=takeoff.to_json(),
        source=models.Takeoff.Source.PATTERN if pattern else models.Takeoff.Source.HAND,
        pattern=pattern,
        at=at,
        by=by.account,
    )
    told = {"version": row.version, "source": row.get_source_display(), "pieces": takeoff.pieces}
    record("written down", row, by=by, at=at, after=told)
    return row
