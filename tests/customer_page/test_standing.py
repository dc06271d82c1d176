"""Where the commission stands on the customer's page, in plain words, and its day."""

import re
from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client
from icalendar import Calendar

from jobs.models import (
    Account,
    CustomerLink,
    Gate,
    Hold,
    Job,
    Operation,
    OperationKind,
    Projection,
    Stage,
)
from tests import cast, customers
from tests.customers import address, promise, text

# Where it stands


def at_enquiry(job: Job) -> None:
    Job.objects.update(stage=Stage.ENQUIRY)


def quoted(job: Job) -> None:
    Job.objects.update(stage=Stage.QUOTED)


def not_begun(job: Job) -> None:
    Gate.objects.update(cleared=date(2026, 3, 2))


def begun(job: Job) -> None:
    Operation.objects.filter(kind__name="Cutting").update(started_at=cast.at(2), quantity_done=3)


def held(job: Job) -> None:
    Hold.objects.create(job=job, reason="secret reason", since=cast.at(2), held_by="Nora")


def made(job: Job) -> None:
    Operation.objects.update(finished_at=cast.at(3))


def complete(job: Job) -> None:
    Job.objects.update(stage=Stage.COMPLETE)


def cancelled(job: Job) -> None:
    Job.objects.update(stage=Stage.CANCELLED)


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (at_enquiry, "We are working out what you asked us for."),
        (quoted, "Our quote is with you."),
        (not_begun, "has its place in our work"),
        (begun, "We are making it."),
        (held, "The work rests for the moment."),
        (made, "It is made and ready."),
        (complete, "It is finished. Thank you"),
        (cancelled, "This commission is closed; nothing is being made."),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_says_where_it_stands(
    visitor: Client, job: Job, link: CustomerLink, state: Callable[[Job], None], words: str
) -> None:
    state(job)
    page = text(visitor.get(address(link)))
    assert words in page
    assert "secret reason" not in page


def test_several_panels_are_counted(visitor: Client, office: Account, shop: None) -> None:
    job = customers.make_commission("0500", panels=3)
    Operation.objects.filter(panel__number=1).update(finished_at=cast.at(3))
    page = text(visitor.get(address(customers.make_customer_link(job, office))))
    assert "1 of 3 panels are ready" in page
    Operation.objects.update(finished_at=cast.at(3))
    delivery = OperationKind.objects.get(name="Delivery")
    work = Operation.objects.create(job=job, kind=delivery, estimate=60)
    link = CustomerLink.objects.get()
    assert "All 3 panels are made and ready." in text(visitor.get(address(link)))
    Operation.objects.filter(pk=work.pk).update(started_at=cast.at(4))
    assert "on its way to you" in text(visitor.get(address(link)))
    Operation.objects.filter(pk=work.pk).update(finished_at=cast.at(4))
    assert "it has left our studio" in text(visitor.get(address(link)))


def test_steps_are_told_in_the_customers_words(visitor: Client, job: Job, link: CustomerLink) -> None:
    OperationKind.objects.filter(name="Assembly").update(told="Building")
    Operation.objects.filter(kind__name="Cutting").update(finished_at=cast.at(3))
    Operation.objects.filter(kind__name="Beveling").update(started_at=cast.at(3))
    page = text(visitor.get(address(link)))
    steps = re.findall(r'<li class="(done|now|next)">.*?</svg>([\w ]+)', page)
    assert steps == [
        ("next", "Drawing approved"),
        ("done", "Cutting"),
        ("now", "Beveling "),
        ("next", "Building"),
        ("next", "Ready"),
    ]


def test_work_of_one_name_is_one_step(visitor: Client, job: Job, link: CustomerLink) -> None:
    OperationKind.objects.filter(name__in=["Beveling", "Assembly"]).update(told="Building")
    Operation.objects.filter(kind__name="Beveling").update(finished_at=cast.at(3))
    page = text(visitor.get(address(link)))
    assert page.count("Building") == 1
    assert '<li class="now"><svg aria-hidden="true"><use href="#now"/></svg>Building' in page


def test_what_broke_shows_only_in_that_it_is_not_ready(visitor: Client, job: Job, link: CustomerLink) -> None:
    made(job)
    cutting = Operation.objects.get(kind__name="Cutting")
    breakage = cutting.breakages.create(pieces=1, at=cast.at(3))
    Operation.objects.create(
        job=job, panel=cutting.panel, kind=cutting.kind, breakage=breakage, label="again", estimate=9
    )
    page = text(visitor.get(address(link)))
    assert "again" not in page
    assert re.search(r'class="done">.{0,80}Cutting', page)
    assert re.search(r'class="next">.{0,80}Ready', page)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("deposit", "We begin when the deposit has come."),
        ("measured", "when somebody can let us in"),
        ("glass", "The glass is on its way to us."),
    ],
)
def test_says_what_it_waits_for(visitor: Client, job: Job, link: CustomerLink, kind: str, words: str) -> None:
    cast.make_gate(job, kind, expected=date(2026, 4, 1))
    page = text(visitor.get(address(link)))
    assert words in page
    assert "Wednesday, April 1" in page
    Gate.objects.update(cleared=date(2026, 3, 2))
    assert words not in text(visitor.get(address(link)))


def test_a_drawing_that_is_not_made_yet(visitor: Client, job: Job, link: CustomerLink) -> None:
    job.panels.update(drawing=None)
    page = text(visitor.get(address(link)))
    assert "Its drawing is not made yet." in page
    assert "We are drawing." in page
    assert "<form" not in page


# The day


def test_tells_the_day_and_the_window_in_words(
    visitor: Client, job: Job, link: CustomerLink, office: Account
) -> None:
    promise(job, office)
    days = [cast.at(day, "12:00", month=6) for day in (1, 8, 22)]
    Projection.objects.create(job=job, p50=days[0], p80=days[1], p95=days[2])
    page = text(visitor.get(address(link)))
    for said in (
        "Monday, June 15, 2026",
        "Why the day changed: the glass",
        "Monday, June 1</dt><dd>It may be ready by then: as likely as not.",
        "Monday, June 8</dt><dd>It will likely be ready by then: four times in five.",
        "Monday, June 22</dt><dd>It will almost surely be ready by then: nineteen times in twenty.",
    ):
        assert said in page
    CustomerLink.objects.update(shows_window=False)
    page = text(visitor.get(address(link)))
    assert "Monday, June 15, 2026" in page
    assert "four times in five" not in page


def test_the_day_for_a_calendar(visitor: Client, job: Job, link: CustomerLink, office: Account) -> None:
    promise(job, office)
    answer = visitor.get(address(link, "day.ics"))
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (date(2026, 6, 15), date(2026, 6, 16))
    assert event["SUMMARY"] == "Hall window, from Lakeside Glass Works"
    assert link.token.encode() not in answer.content
    Job.objects.update(stage=Stage.CANCELLED)
    assert visitor.get(address(link, "day.ics")).status_code == 404
