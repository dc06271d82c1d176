"""A quote on paper: the page's figures, its words, the drawing, and byte for byte what was sent."""

import re
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.quote_lines import lines_of
from jobs.actions.quotes import make_quote, send_quote
from jobs.models import Account, Job, LetterSettings, Quote, QuoteSettings, SentQuote, Studio
from jobs.views import quote_paper
from tests import cast, quoting
from tests.documents.reading import alts_of, pages_of, right_edges
from tests.documents.tags import assert_tagged, read, sizes_mm
from tests.documents.tags import text as text_of

PAPER = reverse("quote-paper", args=["0412", 1])
PAGE = reverse("quote", args=["0412", 1])
SEND = reverse("quote-do", args=["0412", 1, "send"])


@pytest.fixture
def job(office: Account) -> Job:
    quoting.make_stock()
    QuoteSettings.objects.update_or_create(pk=1, defaults={"tax": Decimal("0.2")})
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    return job


@pytest.fixture
def draft(job: Job, office: Account) -> Quote:
    return make_quote(job, by=Actor(account=office), at=timezone.now())


def paper(client: Client, version: int = 1) -> bytes:
    response = client.get(reverse("quote-paper", args=["0412", version]))
    assert (response.status_code, response["Content-Type"]) == (200, "application/pdf")
    return response.content


def figures(text: str) -> list[str]:
    return re.findall(r"-?\d[\d,]*\.\d\d\b", text)


def test_every_figure_is_the_page_s(office_client: Client, draft: Quote) -> None:
    Quote.objects.update(ready_day=date(2031, 5, 6), if_approved_by=date(2031, 4, 1))
    text = text_of(paper(office_client))
    page = re.sub(r"<[^>]*>", " ", office_client.get(PAGE).content.decode())
    for line in lines_of(draft):
        assert f"{line.amount:,.2f}" in text
        assert f"{line.amount:,.2f}" in page
    for amount in (draft.net, draft.tax, draft.total, draft.deposit, draft.total - draft.deposit):
        assert f"{amount:,.2f}" in text
    assert set(figures(text)) == set(figures(page))
    assert "EUR" in text
    assert "Ready to install by Tuesday, 6 May 2031" in text
    assert "if the drawing is approved and the deposit is paid by Tuesday, 1 April 2031" in text


def test_what_each_of_several_copies_costs_stands_beside(
    job: Job, office_client: Client, office: Account
) -> None:
    job.panels.update(copies=3)
    quote = make_quote(job, by=Actor(account=office), at=timezone.now())
    part = quote_paper.parts_of(lines_of(quote))[0]
    said = f"3 × {'' if part.is_even else 'about '}{part.each:,.2f} each"
    assert said in text_of(paper(office_client))
    assert said in office_client.get(PAGE).content.decode()
    assert abs(part.each * 3 - part.amount) <= Decimal("0.02")
    send_quote(quote, without_prices=True, by=Actor(account=office), at=timezone.now())
    job.panels.update(copies=7)
    # As it was sent, whatever becomes of the panel.
    assert quote_paper.parts_of(lines_of(Quote.objects.get()))[0].copies == 3


def test_pictures_of_many_panels_stay_within_their_pages(
    job: Job, office_client: Client, draft: Quote
) -> None:
    for number in range(2, 9):
        cast.make_panel(
            job, number, (), name=f"Clerestory window above the baptistry, north aisle, bay {number}"
        )
    data = paper(office_client)
    pages = pages_of(data)
    # The first ones stand below their heading, not on the page behind it.
    assert "1 Light 1" in pages[0]
    for number in range(2, 9):
        assert any(f"north aisle, bay {number}" in words for words in pages)
    width = float(read(data).pages[0].mediabox.width)
    edges = right_edges(data)
    assert len(edges) == 8
    assert max(edges) < width


def test_its_words(office_client: Client, draft: Quote) -> None:
    text = text_of(paper(office_client))
    words = LetterSettings.current()
    for field in (words.included, words.not_included, words.safety, draft.terms):
        for line in field.splitlines():
            assert line in text
    assert draft.terms
    assert draft.valid_until is not None
    assert f"valid until {draft.valid_until:%A}, {draft.valid_until.day}" in text
    assert "Hall window" in text
    assert "local building official" in text
    assert "A draft" in text


def test_it_is_tagged_and_shows_the_drawing(office_client: Client, draft: Quote) -> None:
    data = paper(office_client)
    assert_tagged(data, "Quote 0412, version 1")
    shown = alts_of(data)
    assert shown == ["Light 1 at 1:16 (3/4 in to 1 ft): no drawing yet, only its size"]


@pytest.mark.parametrize(("chosen", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_a4_and_letter(office_client: Client, draft: Quote, chosen: str, size: tuple[float, float]) -> None:
    Studio.objects.update(paper=chosen)
    assert sizes_mm(paper(office_client)) == {size}


def test_what_is_sent_is_kept_byte_for_byte(office_client: Client, draft: Quote) -> None:
    assert office_client.post(SEND).status_code == 303
    assert "kept as it was sent" in office_client.get(PAGE).content.decode()
    first = paper(office_client)
    assert SentQuote.objects.get().content() == first
    assert "A draft" not in text_of(first)
    LetterSettings.objects.update(included="Something else")
    Studio.objects.update(name="Another name")
    draft.job.panels.update(width_mm=700)
    assert paper(office_client) == first


def test_a_lost_paper_is_told(office_client: Client, draft: Quote) -> None:
    office_client.post(SEND)
    Path(SentQuote.objects.get().file.path).unlink()
    answer = office_client.get(PAPER, follow=True)
    assert "lost, or was changed since" in answer.content.decode()


def test_it_is_sent_also_where_the_disk_is_full(
    office_client: Client, draft: Quote, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(quote_paper, "keep_quote", full)
    assert office_client.post(SEND).status_code == 303
    assert "could not be kept" in office_client.get(PAGE).content.decode()
    draft.refresh_from_db()
    assert draft.state == "sent"
    assert "the PDF is made anew" in office_client.get(PAGE).content.decode()
    # It can be made, and is not said to be what was sent.
    assert "Quote 0412, version 1" in text_of(paper(office_client))


def test_what_changed_since_the_former_version(office_client: Client, draft: Quote, office: Account) -> None:
    by, now = Actor(account=office), timezone.now()
    send_quote(draft, by=by, at=now)
    second = make_quote(draft.job, by=by, at=now)
    line = second.lines.get(words="Cutting")
    before = line.amount
    line.amount += Decimal(1234)
    line.save()
    text = text_of(paper(office_client, 2))
    assert "Changed since version 1" in text
    assert f"Cutting (1 Light 1) {before:,.2f} {before + 1234:,.2f} 1,234.00" in text
    assert "Changed since" not in text_of(paper(office_client, 1))


def test_thirty_panels_with_long_names(office_client: Client, office: Account) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry("0412", *[("Cutting", "Assembly")] * 30)
    for panel in job.panels.all():
        panel.name = f"Light {panel.number} " + "of the long north gallery over the inner stair and landing"
        panel.save()
    quote = make_quote(job, by=Actor(account=office), at=timezone.now())
    data = paper(office_client)
    pages = pages_of(data)
    assert len(pages) >= 8
    lines = [page for page in pages if "Cutting" in page]
    assert len(lines) >= 3
    assert all("What Quantity EUR" in page for page in lines)
    text = text_of(data)
    assert all(f"{panel.number} {panel.name}" in text for panel in job.panels.all())
    assert f"{quote.total:,.2f}" in text


def test_nothing_of_other_customers(office_client: Client, draft: Quote) -> None:
    other = cast.make_job(
        "0777", "Chapel rose", customer=type(draft.job.customer).objects.create(name="Abbey")
    )
    cast.make_panel(other, name="Rose")
    text = text_of(paper(office_client))
    assert not {"0777", "Chapel", "Abbey", "Rose"} & set(text.split())


def test_who_may_not_and_what_is_not_there(
    tablet_client: Client, office_client: Client, draft: Quote
) -> None:
    assert tablet_client.get(PAPER).status_code == 403
    assert office_client.post(PAPER).status_code == 405
    assert office_client.get(reverse("quote-paper", args=["0412", 9])).status_code == 404


def test_no_static_address_serves_it(office_client: Client, draft: Quote) -> None:
    office_client.post(SEND)
    name = SentQuote.objects.get().file.name
    for root in ("/", "/media/", "/static/", "/files/"):
        assert office_client.get(root + name).status_code == 404


def test_a_version_is_dated_when_it_was_sent(office_client: Client, draft: Quote, office: Account) -> None:
    sent = timezone.now() - timedelta(days=3)
    send_quote(draft, by=Actor(account=office), at=sent)
    day = timezone.localtime(sent, cast.ZONE).date()
    assert f"{day.day} {day:%B %Y} Quote" in text_of(paper(office_client))
