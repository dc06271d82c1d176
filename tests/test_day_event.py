"""A whole day in a calendar file (RFC 5545), read back by an independent reader of lines."""

from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar

from jobs.documents.day_event import calendar_file, day_event

AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def lines(data: bytes) -> list[str]:
    """Unfolded (RFC 5545, 3.1)."""
    return data.decode().replace("\r\n ", "").split("\r\n")


def test_a_day_is_a_day_in_every_zone() -> None:
    """The 29th of March 2026 has 23 hours in Europe; a whole day has no clock that could be wrong."""
    found = lines(
        calendar_file([day_event(uid="one@studio", day=date(2026, 3, 29), summary="Window", at=AT)])
    )
    assert "DTSTART;VALUE=DATE:20260329" in found
    assert "DTEND;VALUE=DATE:20260330" in found
    assert "DTSTAMP:20260302T080000Z" in found
    assert "UID:one@studio" in found
    assert "TRANSP:TRANSPARENT" in found
    assert found[0] == "BEGIN:VCALENDAR"
    assert "VERSION:2.0" in found
    assert not any(line.startswith("LOCATION") for line in found)


def test_words_with_commas_and_lines_survive() -> None:
    event = day_event(
        uid="two@studio",
        day=date(2026, 6, 1),
        summary="Hall window, from us; at last",
        at=AT + timedelta(days=1),
        description="One\nTwo",
        place="14 Foundry Lane, Ferry",
    )
    data = calendar_file([event, event], "Deliveries")
    assert "SUMMARY:Hall window\\, from us\\; at last" in lines(data)
    read = Calendar.from_ical(data)
    assert read["X-WR-CALNAME"] == "Deliveries"
    first, _ = read.walk("VEVENT")
    assert (first["DESCRIPTION"], first["LOCATION"]) == ("One\nTwo", "14 Foundry Lane, Ferry")
    assert all(len(line.encode()) <= 75 for line in data.decode().split("\r\n"))
