"""The calendar of a crew or of the studio as a file (RFC 5545): times in UTC, so that no zone has to travel with it."""

from collections.abc import Iterable
from datetime import UTC

from icalendar import Event

from jobs.models import CalendarEntry

from .day_event import calendar_file, day_event


def calendar_of(entries: Iterable[CalendarEntry], name: str) -> bytes:
    """The same entries make the same bytes: every time in it is when something was said, none is when it was read."""
    return calendar_file((_event(entry) for entry in entries), name)


def _event(entry: CalendarEntry) -> Event:
    if entry.day is not None:
        event = day_event(
            uid=entry.uid, day=entry.day, summary=entry.summary, at=entry.changed_at.astimezone(UTC)
        )
    else:
        event = _timed(entry)
    event.add("sequence", entry.sequence)
    event.add("status", "CANCELLED" if entry.cancelled else "CONFIRMED")
    return event


def _timed(entry: CalendarEntry) -> Event:
    assert entry.starts_at is not None
    assert entry.ends_at is not None
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", entry.changed_at.astimezone(UTC))
    event.add("last-modified", entry.changed_at.astimezone(UTC))
    event.add("dtstart", entry.starts_at.astimezone(UTC))
    event.add("dtend", entry.ends_at.astimezone(UTC))
    event.add("summary", entry.summary)
    if entry.place:
        event.add("location", entry.place)
    return event
