"""The customer's page holds nothing of others, speaks as its browser does, and stays light."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import translation

from jobs.models import (
    Account,
    Customer,
    CustomerLink,
    Hold,
    Panel,
    Quote,
)
from tests import cast, customers
from tests.customers import address, make_quote, promise, text


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
    assert counts[0] == counts[1] <= 18
    assert len(page) < 60_000
