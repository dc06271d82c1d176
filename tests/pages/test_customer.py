"""The customer's page: what a link opens and what it does not, approving without a sign-in, and the studio's side."""

import logging
import re
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.cache import caches
from django.http import HttpResponse
from django.test import Client, override_settings
from django.utils import timezone, translation
from icalendar import Calendar

from jobs.actions import Actor, quotes
from jobs.actions.customer_links import renew_link, revoke_link
from jobs.documents import customer_papers
from jobs.documents.customer_papers import CustomerPaper
from jobs.models import (
    Account,
    Customer,
    CustomerLink,
    DrawingApproval,
    Event,
    Gate,
    Hold,
    Job,
    LetterSettings,
    Operation,
    OperationKind,
    Panel,
    Projection,
    Promise,
    Quote,
    QuoteLine,
    QuoteSettings,
    Stage,
    Studio,
)
from jobs.views.by_link import MOST_A_MINUTE, MOST_GUESSES
from studio.log_filter import WithoutSecrets
from tests import cast, customers, quoting


@pytest.fixture
def job(shop: None) -> Job:
    return customers.make_commission()


@pytest.fixture
def link(job: Job, office: Account) -> CustomerLink:
    return customers.make_customer_link(job, office)


@pytest.fixture
def visitor() -> Client:
    """Somebody without an account, whose forms are checked as they are outside the tests."""
    return Client(enforce_csrf_checks=True)


def text(answer: HttpResponse) -> str:
    return answer.content.decode()


def address(link: CustomerLink, rest: str = "") -> str:
    return f"/c/{link.token}/{rest}"


def typed(job: Job, **more: Any) -> dict[str, Any]:
    seen = " ".join(f"{number}-{digest}" for number, digest in customers.seen_of(job).items())
    return {"name": "Anna Berg", "looked": "on", "seen": seen} | more


# What a link opens


def test_shows_where_the_job_stands(visitor: Client, link: CustomerLink) -> None:
    answer = visitor.get(address(link))
    page = text(answer)
    assert answer.status_code == 200
    for said in ("Hall window", "Commission 0412", "we need something from you", "Light 1", "600", "Plate"):
        assert said in page
    assert "We had counted on Friday, March 20." in page
    Gate.objects.update(expected=date(2099, 3, 20))
    assert "We count on it by Friday, March 20." in text(visitor.get(address(link)))
    # No cookie follows the customer, nothing runs on the phone, and no name is shown to who finds the address.
    assert not answer.cookies
    assert "<script" not in page
    assert "Parish of the Two Rivers" not in page


def test_keeps_out_of_caches_search_engines_and_other_sites(visitor: Client, link: CustomerLink) -> None:
    for answer in (
        visitor.get(address(link)),
        visitor.get("/c/nowhere/"),
        visitor.get(address(link, "day.ics")),
        visitor.post(address(link, "approve/")),
    ):
        assert answer["Cache-Control"] == "no-store, private"
        assert answer["Referrer-Policy"] == "no-referrer"
        assert answer["X-Robots-Tag"].startswith("noindex, nofollow")
    page = text(visitor.get(address(link)))
    assert '<meta name="robots" content="noindex' in page
    assert '<meta name="referrer" content="no-referrer">' in page


def revoked(link: CustomerLink, by: Actor) -> str:
    revoke_link(link.job, by=by, at=timezone.now())
    return link.token


def expired(link: CustomerLink, by: Actor) -> str:
    CustomerLink.objects.update(last_day=timezone.localdate() - timedelta(days=2))
    return link.token


def made_anew(link: CustomerLink, by: Actor) -> str:
    renew_link(link.job, by=by, at=timezone.now())
    return link.token


def tampered(link: CustomerLink, by: Actor) -> str:
    return link.token[:-1] + ("A" if link.token[-1] != "A" else "B")


def cut_off(link: CustomerLink, by: Actor) -> str:
    return link.token[:-1]


def lower_case(link: CustomerLink, by: Actor) -> str:
    return link.token.swapcase()


def hashed(link: CustomerLink, by: Actor) -> str:
    return link.digest


def seeded(link: CustomerLink, by: Actor) -> str:
    return link.seed


def long(link: CustomerLink, by: Actor) -> str:
    return "é" * 500


STATES = [revoked, expired, made_anew, tampered, cut_off, lower_case, hashed, seeded, long]


@pytest.mark.parametrize("state", STATES, ids=lambda state: state.__name__)
@pytest.mark.parametrize("rest", ["", "day.ics", "papers/quote-1/", "approve/"])
def test_every_link_that_opens_nothing_gets_the_same(
    visitor: Client,
    link: CustomerLink,
    office: Account,
    state: Callable[[CustomerLink, Actor], str],
    rest: str,
) -> None:
    """Status, headers and body are those of a token that never was."""
    token = state(link, Actor(account=office))
    ask = visitor.post if rest == "approve/" else visitor.get
    answer, never = ask(f"/c/{token}/{rest}"), ask(f"/c/never-was/{rest}")
    assert answer.status_code == never.status_code == 404
    assert answer.content == never.content
    assert dict(answer.headers) == dict(never.headers)
    assert b"0412" not in answer.content
    assert not DrawingApproval.objects.exists()


def test_what_a_good_link_does_not_have_is_the_same_too(visitor: Client, link: CustomerLink) -> None:
    nothing = visitor.get("/c/never-was/").content
    for rest in ("papers/quote-1/", "day.ics"):
        answer = visitor.get(address(link, rest))
        assert (answer.status_code, answer.content) == (404, nothing)


@pytest.mark.parametrize(("rest", "method"), [("", "post"), ("approve/", "put"), ("day.ics", "post")])
def test_wrong_methods(client: Client, link: CustomerLink, rest: str, method: str) -> None:
    assert getattr(client, method)(address(link, rest)).status_code == 405


def test_a_phone_that_opens_the_form_again_is_shown_the_page(visitor: Client, link: CustomerLink) -> None:
    answer = visitor.get(address(link, "approve/"))
    assert (answer.status_code, answer["Location"]) == (303, address(link, "#drawings"))


@pytest.mark.parametrize("rest", ["", "papers/quote-1/"])
def test_no_log_holds_a_token(visitor: Client, link: CustomerLink, caplog: Any, rest: str) -> None:
    """Neither of one that will open again nor of one that does: what the console's handler lets out."""
    CustomerLink.objects.update(last_day=date(2026, 1, 1))
    with caplog.filtering(WithoutSecrets()):
        visitor.get(address(link, rest))
    assert "Not Found: /c/.../" in caplog.text
    assert link.token not in caplog.text
    assert all(each.filters for each in logging.getLogger("django").handlers)


# How often


def test_who_asks_too_often_has_to_wait(visitor: Client, link: CustomerLink, monkeypatch: Any) -> None:
    hold_the_clock(monkeypatch)
    answers = [visitor.get(address(link)) for _ in range(MOST_A_MINUTE + 1)]
    assert {answer.status_code for answer in answers[:-1]} == {200}
    assert answers[-1].status_code == 429
    assert "too often" in text(answers[-1])
    assert answers[-1]["Retry-After"] == "60"
    # Another process of the server, which has none of this one's memory, says the same.
    for cache in caches.all():
        cache.clear()
    assert visitor.get(address(link)).status_code == 429
    # Another address asks for the same link in vain as well: the link itself was asked for too often.
    assert visitor.get(address(link), REMOTE_ADDR="198.51.100.7").status_code == 429


def test_who_guesses_has_to_wait_even_when_right(
    visitor: Client, link: CustomerLink, monkeypatch: Any
) -> None:
    hold_the_clock(monkeypatch)
    for number in range(MOST_GUESSES):
        assert visitor.get(f"/c/guess-{number}/").status_code == 404
    answer = visitor.get(address(link))
    assert answer.status_code == 429
    assert answer["Retry-After"] == "600"
    assert b"0412" not in answer.content
    assert visitor.get(address(link), REMOTE_ADDR="198.51.100.7").status_code == 200


def hold_the_clock(monkeypatch: Any) -> None:
    """The middle of a minute and of ten, which a slow machine does not leave."""
    now = timezone.now().replace(minute=5, second=10)
    monkeypatch.setattr("jobs.views.middleware.timezone.now", lambda: now)


def test_behind_a_proxy_it_is_the_proxy_that_is_believed(
    visitor: Client, job: Job, link: CustomerLink
) -> None:
    told = "203.0.113.9, 198.51.100.7"
    with override_settings(BEHIND_PROXY=True):
        visitor.post(address(link, "approve/"), typed(job), HTTP_X_FORWARDED_FOR=told)
    assert DrawingApproval.objects.get().address == "198.51.100.7"


def test_without_a_proxy_nobody_says_where_they_are(visitor: Client, job: Job, link: CustomerLink) -> None:
    visitor.post(address(link, "approve/"), typed(job), HTTP_X_FORWARDED_FOR="203.0.113.9")
    assert DrawingApproval.objects.get().address == "127.0.0.1"


# Reading


def test_reading_is_counted_but_not_of_the_studio_nor_of_machines(
    visitor: Client, office_client: Client, link: CustomerLink
) -> None:
    visitor.get(address(link))
    visitor.get(address(link))
    visitor.head(address(link))
    visitor.get(address(link), HTTP_SEC_PURPOSE="prefetch")
    office_client.get(address(link))
    office_client.get("/jobs/0412/customers-page/")
    assert CustomerLink.objects.get().times_read == 2
    page = text(office_client.get("/jobs/0412/"))
    assert "2 times: first" in page


# Approving


def test_approves_without_a_sign_in(visitor: Client, job: Job, link: CustomerLink) -> None:
    answer = visitor.post(
        address(link, "approve/"), typed(job), HTTP_USER_AGENT="Old phone", HTTP_ORIGIN="null"
    )
    assert (answer.status_code, answer["Location"]) == (303, address(link, "#drawings"))
    approval = DrawingApproval.objects.get()
    assert (approval.name, approval.agent, approval.link) == ("Anna Berg", "Old phone", link)
    assert Gate.objects.get(kind="drawing").cleared == timezone.localdate()
    page = text(visitor.get(address(link)))
    assert "Approved by Anna Berg" in page
    assert approval.version in page
    assert "<form" not in page


def test_a_double_tap_is_one(visitor: Client, job: Job, link: CustomerLink) -> None:
    sent = typed(job)
    assert {visitor.post(address(link, "approve/"), sent).status_code for _ in range(3)} == {303}
    assert DrawingApproval.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"name": ""}, "Please write your name."),
        ({"looked": ""}, "Please look at sizes, glass and layout first"),
        ({"seen": ""}, "There is no drawing to approve."),
        ({"seen": "1-abc"}, "The page was not sent whole"),
        ({"seen": "1-" + "0" * 64}, "A drawing has changed since you opened this page."),
        ({"name": "A" * 81}, "at most 80"),
    ],
)
def test_what_is_refused_is_said_and_what_was_typed_stays(
    visitor: Client, job: Job, link: CustomerLink, more: dict[str, str], sentence: str
) -> None:
    answer = visitor.post(address(link, "approve/"), typed(job, **more))
    page = text(answer)
    assert answer.status_code == 422
    assert sentence in page
    assert f'value="{more.get("name", "Anna Berg")}"' in page or not more.get("name", "Anna Berg")
    assert not DrawingApproval.objects.exists()


def test_a_drawing_changed_while_looking_is_shown_anew(visitor: Client, job: Job, link: CustomerLink) -> None:
    sent = typed(job)
    customers.redraw(job.panels.get())
    page = text(visitor.post(address(link, "approve/"), sent))
    assert "Amber" in page
    now = typed(job)
    assert now["seen"] in page
    assert now["seen"] != sent["seen"]
    # The next tap approves what was shown with the refusal.
    assert visitor.post(address(link, "approve/"), now).status_code == 303


@pytest.mark.parametrize(
    ("stage", "sentence"), [(Stage.CANCELLED, "is cancelled"), (Stage.COMPLETE, "is complete")]
)
def test_a_closed_commission_refuses_with_a_sentence(
    visitor: Client, job: Job, link: CustomerLink, stage: str, sentence: str
) -> None:
    sent = typed(job)
    Job.objects.update(stage=stage, closed_at=timezone.now())
    answer = visitor.post(address(link, "approve/"), sent)
    assert answer.status_code == 422
    assert sentence in text(answer)
    assert "<form" not in text(answer)


def test_approved_by_another_is_said(visitor: Client, job: Job, link: CustomerLink) -> None:
    visitor.post(address(link, "approve/"), typed(job))
    answer = visitor.post(address(link, "approve/"), typed(job, name="Karl Berg"))
    assert answer.status_code == 422
    assert "Anna Berg has approved this already" in text(answer)


def test_the_studio_is_told_to_say_it_on_the_job(office_client: Client, job: Job, link: CustomerLink) -> None:
    answer = office_client.post(address(link, "approve/"), typed(job))
    assert answer.status_code == 422
    assert "You are signed in as the studio" in text(answer)


def test_what_changed_since_is_told_to_both(
    visitor: Client, office_client: Client, job: Job, link: CustomerLink
) -> None:
    visitor.post(address(link, "approve/"), typed(job))
    customers.redraw(job.panels.get())
    Gate.objects.update(cleared=None)
    assert "Changed since you approved it" in text(visitor.get(address(link)))
    assert "changed since it was approved" in text(office_client.get("/jobs/0412/"))


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


def promise(job: Job, by: Account) -> None:
    Promise.objects.create(
        job=job, day=date(2026, 6, 15), given_at=cast.at(2), given_by=by, told="Vicar", reason="the glass"
    )


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
        "Monday, June 8</dt><dd>It is likely ready by then: four times in five.",
        "Monday, June 22</dt><dd>It is almost surely ready by then: nineteen times in twenty.",
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


# Prices and papers


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


def test_prices_only_where_they_are_shared(
    visitor: Client, job: Job, link: CustomerLink, office: Account
) -> None:
    make_quote(job, office)
    cast.make_gate(job, "deposit")
    page = text(visitor.get(address(link)))
    assert not re.search(r"4.?812|2.?406|EUR", page)
    CustomerLink.objects.update(shows_prices=True)
    page = text(visitor.get(address(link)))
    assert "EUR 4,812.34" in page
    assert "the deposit of EUR 2,406.17" in page


def test_a_quote_that_was_sent_reads_the_same_ever_after(visitor: Client, office: Account) -> None:
    """Its page, whatever becomes of lines, words, terms, names and the currency."""
    quoting.make_stock()
    enquiry = quoting.make_enquiry("0500")
    quoting.take_off(enquiry.panels.get(), office)
    by = Actor(account=office)
    quote = quotes.send_quote(quotes.make_quote(enquiry, by=by, at=cast.at(2)), by=by, at=cast.at(2))
    link = customers.make_customer_link(enquiry, office, shows_prices=True)

    def section() -> str:
        found = re.search(
            r'aria-labelledby="price".*?</section>', text(visitor.get(address(link))), re.DOTALL
        )
        return found[0] if found else ""

    before = section()
    for said in (
        f"EUR {quote.total:,.2f}",
        "1 Light 1",
        "Included",
        "Drawing and full-size pattern of each panel",
        "Scaffolding, lifting gear",
        "We begin when the drawing is approved in writing",
    ):
        assert said in before
    QuoteLine.objects.update(words="Otherwise", amount=1)
    Panel.objects.update(name="Otherwise")
    LetterSettings.objects.update(included="Otherwise", not_included="Otherwise")
    QuoteSettings.objects.update(terms="Otherwise")
    Studio.objects.update(currency="USD")
    assert section() == before
    # The version after it has its own.
    quotes.send_quote(quotes.make_quote(enquiry, by=by, at=cast.at(3)), by=by, at=cast.at(3))
    assert "version 2" in section()
    assert "Otherwise" in section()


def test_a_reason_that_names_others_stays_inside(
    visitor: Client, job: Job, link: CustomerLink, office: Account
) -> None:
    promise(job, office)
    Promise.objects.update(reason="Ilse Roth is ill")
    page = text(visitor.get(address(link)))
    assert "Monday, June 15, 2026" in page
    assert "Ilse" not in page


def test_papers_are_those_that_there_are(
    visitor: Client, link: CustomerLink, monkeypatch: pytest.MonkeyPatch
) -> None:
    def papers(job: Job) -> list[CustomerPaper]:
        return [
            CustomerPaper("care", "Care instructions", lambda: b"%PDF-care"),
            CustomerPaper("quote-1", "Quote, version 1", lambda: b"%PDF-quote", has_prices=True),
        ]

    monkeypatch.setattr(customer_papers, "SOURCES", (papers,))
    page = text(visitor.get(address(link)))
    assert f'href="{address(link, "papers/care/")}"' in page
    assert "Quote, version 1" not in page
    answer = visitor.get(address(link, "papers/care/"))
    assert (answer.content, answer["Content-Type"]) == (b"%PDF-care", "application/pdf")
    assert visitor.get(address(link, "papers/quote-1/")).status_code == 404
    CustomerLink.objects.update(shows_prices=True)
    assert visitor.get(address(link, "papers/quote-1/")).content == b"%PDF-quote"
    CustomerLink.objects.update(shows_papers=False)
    assert visitor.get(address(link, "papers/care/")).status_code == 404
    assert "Care instructions" not in text(visitor.get(address(link)))


# Nothing of others


def test_a_page_holds_nothing_of_others(visitor: Client, office: Account, shop: None) -> None:
    """Each of twelve commissions has a name, a title, panels, a price and a hold of its own; each page only its own."""
    links = {}
    for place in range(12):
        mark = f"Mark{place:02d}x"
        customer = Customer.objects.create(
            name=f"{mark} House", contact=f"{mark} Lady", email=f"{mark}@a.example"
        )
        job = customers.make_commission(f"N{place:02d}7", title=f"{mark} window", customer=customer)
        Panel.objects.filter(job=job).update(name=f"{mark} light")
        quote = make_quote(job, office)
        Quote.objects.filter(pk=quote.pk).update(total=Decimal(f"77{place:02d}.31"))
        Hold.objects.create(job=job, reason=f"{mark} hold", since=cast.at(2), held_by="Nora")
        promise(job, office)
        links[place] = customers.make_customer_link(job, office, shows_prices=True)
    for place, link in links.items():
        found = text(visitor.get(address(link))) + text(visitor.get(address(link, "day.ics")))
        assert f"Mark{place:02d}x window" in found
        assert f"7,7{place:02d}.31" in found
        assert set(re.findall(r"Mark(\d\d)x", found)) == {f"{place:02d}"}
        assert set(re.findall(r"N(\d\d)7", found)) == {f"{place:02d}"}
        assert set(re.findall(r"7,7(\d\d)\.31", found)) == {f"{place:02d}"}
        tokens = [other.token for other in links.values() if other != link]
        assert not any(token in found for token in tokens)
        for inside in ("House", "Lady", "hold", "Nora", "Mara", "Jonas"):
            assert inside not in found


@pytest.mark.parametrize(
    ("asked", "language", "day"),
    [
        ("", "en", "Friday, March 20"),
        ("en-US,en;q=0.9", "en", "Friday, March 20"),
        ("en-GB,en;q=0.9", "en-gb", "Friday, 20 March"),
        ("tlh, de-AT;q=0.9, en;q=0.5", "de", "Freitag, 20. März"),
        ("tlh, xx;q=;;", "en", "Friday, March 20"),
    ],
)
def test_the_page_speaks_as_the_browser_asks(
    visitor: Client, link: CustomerLink, settings: Any, asked: str, language: str, day: str
) -> None:
    """With a language that the product comes to have, days have its form; papers stay in the studio's own."""
    settings.LANGUAGES = [*settings.LANGUAGES, ("de", "German")]
    answer = visitor.get(address(link), headers={"Accept-Language": asked})
    page = text(answer)
    assert f'<html lang="{language}">' in page
    assert day in page
    assert answer["Content-Language"] == language
    assert translation.get_language() == "en"


def test_thirty_panels_stay_light(visitor: Client, office: Account, shop: None) -> None:
    """A phone on a weak net: the page with its style, unpacked, and one number of queries whatever the panels."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for panels in (2, 30):
        job = customers.make_commission(f"06{panels:02d}", panels=panels)
        link = customers.make_customer_link(job, office)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            page = visitor.get(address(link)).content
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 17
    assert len(page) < 60_000


# The studio's side


def test_the_office_makes_changes_renews_and_revokes(office_client: Client, job: Job) -> None:
    assert "Make a link" in text(office_client.get("/jobs/0412/"))
    day = (timezone.localdate() + timedelta(days=40)).isoformat()
    assert 'name="last_day"' in text(office_client.get("/jobs/0412/?edit=link"))
    made = {"last_day": day, "shows_window": "on"}
    answer = office_client.post("/jobs/0412/customers-page/make/", made)
    assert (answer.status_code, answer["Location"]) == (303, "/jobs/0412/#customers-page")
    link = CustomerLink.objects.get()
    assert (link.shows_window, link.shows_papers, link.shows_prices) == (True, False, False)
    page = text(office_client.get("/jobs/0412/"))
    assert f"http://testserver/c/{link.token}/" in page
    assert "not yet" in page
    assert office_client.post("/jobs/0412/customers-page/make/", made).status_code == 422
    changed = {"last_day": day, "shows_prices": "on"}
    assert office_client.post("/jobs/0412/customers-page/change/", changed).status_code == 303
    assert CustomerLink.objects.get().shows_prices
    assert office_client.post("/jobs/0412/customers-page/renew/").status_code == 303
    new = CustomerLink.objects.get(revoked_at=None)
    assert new.token != link.token
    assert office_client.post("/jobs/0412/customers-page/revoke/").status_code == 303
    answer = office_client.post("/jobs/0412/customers-page/revoke/")
    assert answer.status_code == 422
    assert "There is no link" in text(answer)
    assert [event.verb for event in Event.objects.filter(subject="customerlink")] == [
        "revoked",
        "made anew",
        "changed",
        "made",
    ]
    assert "Link of the customer&#x27;s page" in text(office_client.get("/jobs/0412/"))


def test_a_day_that_is_over_is_refused_beside_the_field(office_client: Client, job: Job) -> None:
    answer = office_client.post("/jobs/0412/customers-page/make/", {"last_day": "2020-01-01"})
    assert answer.status_code == 422
    assert "That day is over." in text(answer)
    assert 'value="2020-01-01"' in text(answer)


@pytest.mark.parametrize("where", ["customers-page/nothing/", "change/link/"])
def test_no_such_verb(office_client: Client, job: Job, where: str) -> None:
    assert office_client.post(f"/jobs/0412/{where}").status_code == 404


def test_an_expired_link_is_told(office_client: Client, link: CustomerLink) -> None:
    CustomerLink.objects.update(last_day=date(2026, 1, 1))
    page = text(office_client.get("/jobs/0412/"))
    assert "The link has expired" in page
    assert link.token not in page


def test_a_link_made_under_another_key_is_told(office_client: Client, link: CustomerLink) -> None:
    CustomerLink.objects.update(digest="0" * 64)
    assert "cannot be shown again" in text(office_client.get("/jobs/0412/"))


def test_the_preview_is_the_customers_page(
    office_client: Client, visitor: Client, link: CustomerLink
) -> None:
    seen = text(office_client.get("/jobs/0412/customers-page/"))
    assert "This is what the customer sees now" in seen
    assert "<form" not in seen
    heads = re.compile(r"<h[123][^>]*>(.*?)</h[123]>")
    assert heads.findall(seen) == heads.findall(text(visitor.get(address(link))))


def test_there_is_a_preview_without_a_link(office_client: Client, job: Job, office: Account) -> None:
    promise(job, office)
    page = text(office_client.get("/jobs/0412/customers-page/"))
    assert "This is what the customer would see; no link" in page
    assert "/c/" not in page


def test_the_studio_sees_which_version_was_approved(
    office_client: Client, visitor: Client, job: Job, link: CustomerLink
) -> None:
    visitor.post(address(link, "approve/"), typed(job), HTTP_USER_AGENT="Old phone")
    approval = DrawingApproval.objects.get()
    job_page = text(office_client.get("/jobs/0412/"))
    assert f"version {approval.version}" in job_page
    assert "by Anna Berg" in job_page
    page = text(office_client.get(f"/jobs/0412/approvals/{approval.pk}/"))
    for said in ("Anna Berg", "Old phone", "127.0.0.1", approval.digest, "still drawn like this", "Rose"):
        assert said in page
    customers.redraw(job.panels.get())
    page = text(office_client.get(f"/jobs/0412/approvals/{approval.pk}/"))
    assert "drawn otherwise by now" in page
    assert "Rose" in page
    assert "Amber" not in page
    DrawingApproval.objects.update(withdrawn_at=timezone.now())
    assert "asked for again" in text(office_client.get(f"/jobs/0412/approvals/{approval.pk}/"))


def test_an_approval_of_another_job_is_not_there(office_client: Client, job: Job) -> None:
    approval = DrawingApproval.objects.create(
        panel=job.panels.get(), digest="0" * 64, shown={}, name="Anna", at=cast.at(2)
    )
    cast.make_job("0999")
    assert office_client.get(f"/jobs/0999/approvals/{approval.pk}/").status_code == 404
