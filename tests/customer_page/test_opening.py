"""What a link to the customer's page opens and what it does not, and how often."""

import logging
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.cache import caches
from django.test import Client, override_settings
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.customer_links import renew_link, revoke_link
from jobs.models import (
    Account,
    CustomerLink,
    DrawingApproval,
    Gate,
    Job,
)
from jobs.views.by_link import MOST_A_MINUTE, MOST_GUESSES
from studio.log_filter import WithoutSecrets
from tests.customers import address, text, typed

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
