"""Calendars: read by a strict reader of our own, which shares nothing with the package that writes them."""

import re
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor, Refused, calendars
from jobs.models import Account, CalendarLink, Job, Operation, OperationKind, Projection, Promise, Stage
from tests import cast

AT = cast.at(2, "09:00")


def read(data: bytes) -> list[dict[str, str]]:
    """The events of a calendar, each a property's name and parameters with its value, by RFC 5545: lines end in CRLF
    (3.1), are at most 75 octets long and go on after a space (3.1), text escapes \\\\ ; , and line ends (3.3.11)."""
    assert data.endswith(b"\r\n")
    lines = data[:-2].split(b"\r\n")
    assert not any(b"\n" in line or b"\r" in line or len(line) > 75 for line in lines)
    whole = data[:-2].replace(b"\r\n ", b"").decode().split("\r\n")
    assert (whole[0], whole[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert {"VERSION:2.0", "METHOD:PUBLISH"} <= set(whole)
    assert sum(line.startswith("PRODID:") for line in whole) == 1
    events: list[dict[str, str]] = []
    inside = False
    for line in whole[1:-1]:
        name, value = line.split(":", 1)
        if line == "BEGIN:VEVENT":
            assert not inside
            inside = True
            events.append({})
        elif line == "END:VEVENT":
            inside = False
        elif inside:
            assert name not in events[-1]
            if name in ("SUMMARY", "LOCATION"):
                assert not re.search(r"(?<!\\)[;,]", value)
                value = re.sub(r"\\([\\;,nN])", lambda found: "\n" if found[1] in "nN" else found[1], value)
            events[-1][name] = value
    for event in events:
        assert {"UID", "DTSTAMP", "SUMMARY", "SEQUENCE", "STATUS"} <= event.keys()
        assert re.fullmatch(r"\d{8}T\d{6}Z", event["DTSTAMP"])
    assert len({event["UID"] for event in events}) == len(events)
    return events


def instant(value: str) -> datetime:
    return datetime.strptime(value, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch) -> None:
    """Requests come on the Monday of the tests."""
    clock = SimpleNamespace(now=lambda: AT, override=timezone.override)
    monkeypatch.setattr("jobs.views.middleware.timezone", clock)


@pytest.fixture
def nora(lead: Account) -> Actor:
    return Actor(account=lead)


@pytest.fixture
def delivery(shop: None) -> Operation:
    """A job promised for 27 March whose delivery Jonas has on the Friday before the clocks change."""
    job = cast.make_job(
        title="Hall window, north; a very long title that has to be folded in a calendar: Größe"
    )
    kind = OperationKind.objects.get(slug="delivery")
    row = Operation.objects.create(job=job, kind=kind, estimate=120)
    plan(row, cast.at(27, "10:07"))
    return row


def plan(row: Operation, start: datetime, person: str = "Jonas") -> None:
    stop = start + timedelta(hours=2)
    values = {"p50": stop, "p80": stop, "p95": stop, "start": start, "finish": stop}
    Projection.objects.update_or_create(operation=row, defaults=values | {"person": cast.person(person)})


def feed(link: CalendarLink, **headers: str) -> Any:
    return Client().get(reverse("calendar-feed", args=[link.token]), headers=headers)


def test_the_studios_calendar(delivery: Operation, nora: Actor) -> None:
    Promise.objects.create(
        job=delivery.job, day=date(2026, 3, 30), given_at=AT, given_by=nora.account, told="Office"
    )
    answer = feed(calendars.make_calendar_link(None, by=nora, at=AT))
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "noindex" in answer["X-Robots-Tag"]
    timed, promised = read(answer.content)
    assert timed["SUMMARY"] == f"Delivery: 0412 {delivery.job.title}"
    # In Vienna it is an hour before UTC until 29 March 2026.
    assert (timed["DTSTART"], timed["DTEND"]) == ("20260327T090000Z", "20260327T110000Z")
    assert promised["DTSTART;VALUE=DATE"] == "20260330"
    assert promised["DTEND;VALUE=DATE"] == "20260331"


@pytest.mark.parametrize(("day", "month", "utc"), [(27, 3, 9), (30, 3, 8), (23, 10, 8), (26, 10, 9)])
def test_the_clock_on_the_wall_is_right_on_both_sides_of_a_clock_change(
    delivery: Operation, nora: Actor, day: int, month: int, utc: int
) -> None:
    """Directive 2000/84/EC: summer time from the last Sunday of March to the last of October."""
    plan(delivery, cast.at(day, "10:00", month))
    (event,) = read(feed(calendars.make_calendar_link(None, by=nora, at=AT)).content)
    assert instant(event["DTSTART"]) == datetime(2026, month, day, utc, tzinfo=UTC)
    assert instant(event["DTSTART"]).astimezone(cast.ZONE).hour == 10


def test_a_change_keeps_its_name_and_counts_up_and_what_is_off_is_cancelled(
    delivery: Operation, nora: Actor
) -> None:
    link = calendars.make_calendar_link(cast.person("Jonas"), by=nora, at=AT)
    first = feed(link)
    again = feed(link)
    assert again.content == first.content
    (before,) = read(first.content)
    plan(delivery, cast.at(30, "10:00"))
    (after,) = read(feed(link).content)
    assert after["UID"] == before["UID"]
    assert (before["SEQUENCE"], after["SEQUENCE"]) == ("0", "1")
    assert after["DTSTART"] != before["DTSTART"]
    Job.objects.update(stage=Stage.CANCELLED)
    (off,) = read(feed(link).content)
    assert (off["UID"], off["SEQUENCE"], off["STATUS"]) == (before["UID"], "2", "CANCELLED")


def test_minutes_are_no_news(delivery: Operation, nora: Actor) -> None:
    link = calendars.make_calendar_link(None, by=nora, at=AT)
    first = feed(link)
    plan(delivery, cast.at(27, "10:12"))
    assert feed(link, **{"If-None-Match": first["ETag"]}).status_code == 304
    assert feed(link, **{"If-Modified-Since": first["Last-Modified"]}).status_code == 304


def test_a_crew_sees_its_own(delivery: Operation, nora: Actor) -> None:
    mara = calendars.make_calendar_link(cast.person("Mara"), by=nora, at=AT)
    assert read(feed(mara).content) == []


def test_a_wrong_and_a_revoked_address_tell_the_same(delivery: Operation, nora: Actor) -> None:
    old = calendars.make_calendar_link(None, by=nora, at=AT)
    new = calendars.make_calendar_link(None, by=nora, at=AT)
    assert feed(new).status_code == 200
    calendars.revoke_calendar_link(None, by=nora, at=AT)
    wrong = Client().get(reverse("calendar-feed", args=["x" * 32]))
    for link in (old, new):
        answer = feed(link)
        assert (answer.status_code, answer.content) == (wrong.status_code, wrong.content)
    assert wrong.status_code == 404
    with pytest.raises(Refused, match="no address"):
        calendars.revoke_calendar_link(None, by=nora, at=AT)


def test_who_left_has_no_calendar(delivery: Operation, nora: Actor) -> None:
    jonas = cast.person("Jonas")
    link = calendars.make_calendar_link(jonas, by=nora, at=AT)
    jonas.active = False
    jonas.save(update_fields=["active"])
    assert feed(link).status_code == 404
    with pytest.raises(Refused, match="does not work here"):
        calendars.make_calendar_link(jonas, by=nora, at=AT)


def test_the_office_gives_none_out(office: Account) -> None:
    with pytest.raises(Refused, match="Only the lead"):
        calendars.make_calendar_link(None, by=Actor(account=office), at=AT)


def test_guessing_is_throttled(shop: None) -> None:
    client = Client()
    answers = [client.get(reverse("calendar-feed", args=[f"{n:032}"])).status_code for n in range(22)]
    assert answers[0] == 404
    assert answers[-1] == 429


def test_the_page_gives_and_revokes_addresses(lead_client: Client) -> None:
    page = reverse("set-up-calendars")
    assert lead_client.post(reverse("set-up-calendar-do", args=["make"]), {"person": ""}).status_code == 302
    token = CalendarLink.objects.get().token
    assert reverse("calendar-feed", args=[token]) in lead_client.get(page).content.decode()
    revoke = reverse("set-up-calendar-do", args=["revoke"])
    assert lead_client.post(revoke, {"person": ""}).status_code == 302
    assert lead_client.post(revoke, {"person": ""}).status_code == 422
    assert token not in lead_client.get(page).content.decode()
