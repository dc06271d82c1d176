"""The weekly hours sheet on paper: the figures of its page, a line to sign for each person."""

from datetime import datetime

from jobs.models import Person, Studio
from jobs.models.sheets import Week

from .render import pdf


def hours_sheet(week: Week, *, studio: Studio, at: datetime, person: Person | None = None) -> bytes:
    """`week` as `read_week` gives it, of everybody or of `person` alone."""
    context = {"week": week, "person": person, "at": at, "today": at.astimezone(studio.zone).date()}
    of = f" of {person.name}" if person else ""
    title = f"Hours{of}, week of {week.monday:%Y-%m-%d}"
    return pdf("documents/hours_sheet.html", context, studio=studio, title=title, landscape=True)
