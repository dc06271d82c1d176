"""The ends of days and weeks: days confirmed by most, and every week closed but the last."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from random import Random

from jobs import models
from jobs.models.sheets import WEEK, monday_of, read_week

from .rows import Rows, moment

WEEKS = 8
# Of ten days, those that people think to confirm.
CONFIRMED = 0.85


def close_weeks(rows: Rows, lead: models.Account) -> None:
    """The last weeks, the oldest first; the one just over is left for the lead to look at."""
    now = moment(rows.now)
    rng = Random(785)  # noqa: S311  # nosec B311  # The same demo each time.
    studio = models.Studio.current()
    this = monday_of(now.astimezone(studio.zone).date())
    for back in range(WEEKS, 0, -1):
        monday = this - back * WEEK
        week = read_week(monday, now, studio)
        days = [day for row in week.people for day in row.days if day.minutes and rng.random() < CONFIRMED]
        evening = timedelta(hours=16, minutes=35)
        models.ConfirmedDay.objects.bulk_create(
            models.ConfirmedDay(
                person=day.person,
                day=day.day,
                minutes=day.minutes,
                confirmed_at=_midnight(day.day, studio) + evening,
            )
            for day in days
            if not day.left_on
        )
        if back > 1 and not week.unanswered:
            models.ClosedWeek.objects.create(
                monday=monday,
                closed_at=_midnight(monday + WEEK, studio) + timedelta(hours=8),
                closed_by=lead,
                minutes={str(row.person.pk): row.minutes for row in week.people if row.minutes},
            )


def _midnight(day: date, studio: models.Studio) -> datetime:
    return datetime.combine(day, time(), studio.zone)
