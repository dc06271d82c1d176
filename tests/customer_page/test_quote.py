"""Prices and papers on the customer's page: those that are shared, as they were sent."""

import re

import pytest
from django.test import Client

from jobs.actions import Actor, quotes
from jobs.documents import customer_papers
from jobs.documents.customer_papers import CustomerPaper
from jobs.models import (
    Account,
    CustomerLink,
    Job,
    LetterSettings,
    Panel,
    Promise,
    QuoteLine,
    QuoteSettings,
    Studio,
)
from tests import cast, customers, quoting
from tests.customers import address, make_quote, promise, text


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
