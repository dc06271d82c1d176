"""One whole day in a calendar file (RFC 5545): a promised day, a delivery."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from icalendar import Calendar, Event

PRODUCT = "-//Glass studio floor//EN"


def day_event(
    *, uid: str, day: date, summary: str, at: datetime, description: str = "", place: str = ""
) -> Event:
    """An event of the whole `day`, which a calendar shows on that day in whatever zone it is read.

    `uid` has to be the same whenever the same thing is told again, so that it moves instead of standing there twice;
    `at` (aware) is when it was said. It does not make anybody busy.
    """
    event = Event()
    event.add("uid", uid)
    event.add("dtstamp", at)
    event.add("last-modified", at)
    event.add("dtstart", day)
    # The end is the first day that it is not on any more (RFC 5545, 3.6.1).
    event.add("dtend", day + timedelta(days=1))
    event.add("summary", summary)
    event.add("transp", "TRANSPARENT")
    if description:
        event.add("description", description)
    if place:
        event.add("location", place)
    return event


def calendar_file(events: Iterable[Event], name: str = "") -> bytes:
    """The events as the bytes of an .ics file."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    if name:
        calendar.add("x-wr-calname", name)
    for event in events:
        calendar.add_component(event)
    return bytes(calendar.to_ical())
