"""The pages of quotes: versions, a draft and its date, sent and answered, and how quotes are made."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.quotes import make_quote, send_quote
from jobs.models import (
    Account,
    Event,
    Job,
    LaborRate,
    OperationKind,
    OutsidePrice,
    PlanState,
    Quote,
    QuoteLine,
    QuoteSettings,
    Stage,
    Supplier,
)
from tests import cast, quoting

LIST = reverse("quotes", args=["0412"])
MAKE = reverse("quote-make", args=["0412"])
PAGE = reverse("quote", args=["0412", 1])
SET_UP = reverse("set-up-quotes")


def do(verb: str, version: int = 1) -> str:
    return reverse("quote-do", args=["0412", version, verb])


@pytest.fixture
def job(office: Account) -> Job:
    quoting.make_stock()
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 40})
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    return job


@pytest.fixture
def draft(job: Job, office: Account) -> Quote:
    return make_quote(job, by=Actor(account=office), at=timezone.now())


@pytest.fixture
def sent(draft: Quote, office: Account) -> Quote:
    return send_quote(draft, by=Actor(account=office), at=timezone.now())


def typed_lines(quote: Quote, **more: Any) -> dict[str, Any]:
    """The form of the lines as the page shows it."""
    found: dict[str, Any] = {"valid_until": quote.valid_until, "terms": quote.terms, "extra_group": "packing"}
    for line in quote.lines.exclude(group="rounding"):
        found |= {f"words-{line.pk}": line.words, f"amount-{line.pk}": str(line.amount)}
    return found | more


def test_no_quote_yet(office_client: Client, job: Job) -> None:
    text = office_client.get(LIST).content.decode()
    assert "There is no quote yet" in text
    assert "taken off" in text
    job.panels.get().takeoffs.all().delete()
    assert "not taken off: hours by its route" in office_client.get(LIST).content.decode()


def test_a_quote_is_made(office_client: Client, job: Job) -> None:
    answer = office_client.post(MAKE)
    assert (answer.status_code, answer["Location"]) == (303, PAGE)
    text = office_client.get(PAGE).content.decode()
    quote = Quote.objects.get()
    for words in ("1 Light 1", "Cutting", "Came", "Design fee", f"{quote.total:,.2f}".replace(",", "")):
        assert words in text.replace(",", "")
    answer = office_client.post(MAKE)
    assert answer.status_code == 422
    assert "Version 1 is a draft still" in answer.content.decode()


def test_a_job_without_work(office_client: Client, shop: None) -> None:
    cast.make_job("0412", stage=Stage.ENQUIRY)
    answer = office_client.post(MAKE)
    assert answer.status_code == 422
    assert "no work on this job" in answer.content.decode()


def test_a_later_version_asks_for_its_date_anew(office_client: Client, sent: Quote, office: Account) -> None:
    day = cast.today() + timedelta(days=9)
    Quote.objects.update(if_approved_by=day, ready_day=day + timedelta(days=20))
    make_quote(sent.job, by=Actor(account=office), at=timezone.now())
    text = office_client.get(reverse("quote", args=["0412", 2])).content.decode()
    assert "Version 1 offered" in text
    assert f'value="{day.isoformat()}"' in text
    # A day that is over is not asked about.
    Quote.objects.filter(version=1).update(if_approved_by=day - timedelta(days=30))
    text = office_client.get(reverse("quote", args=["0412", 2])).content.decode()
    assert f'value="{cast.today().isoformat()}"' in text


def test_the_lines_are_changed(office_client: Client, draft: Quote) -> None:
    text = office_client.get(f"{PAGE}?edit=lines").content.decode()
    cutting = draft.lines.get(words="Cutting")
    assert f'name="amount-{cutting.pk}"' in text
    more = {f"amount-{cutting.pk}": "500", "extra_words": "Crate", "extra_amount": "80"}
    answer = office_client.post(do("change"), typed_lines(draft, **more))
    assert answer.status_code == 303
    before = draft.total
    draft.refresh_from_db()
    assert draft.lines.get(words="Crate").amount == 80
    # To whole amounts.
    assert abs(draft.total - (before + 580 - cutting.amount)) <= 1


def test_what_was_typed_wrong_stands_there_still(office_client: Client, draft: Quote) -> None:
    cutting = draft.lines.get(words="Cutting")
    answer = office_client.post(do("change"), typed_lines(draft, **{f"amount-{cutting.pk}": "much"}))
    assert answer.status_code == 422
    assert 'value="much"' in answer.content.decode()
    answer = office_client.post(do("change"), typed_lines(draft, extra_words="Crate"))
    assert answer.status_code == 422
    assert "One more line has words and an amount." in answer.content.decode()
    answer = office_client.post(do("change"), typed_lines(draft, valid_until="2020-01-01"))
    assert answer.status_code == 422
    assert "valid until today or a day of the next two years" in answer.content.decode()
    assert draft.lines.get(words="Cutting").amount == cutting.amount


def test_reckoned_anew_and_thrown_away(office_client: Client, draft: Quote) -> None:
    QuoteLine.objects.filter(words="Cutting").update(amount=1)
    assert office_client.post(do("renew")).status_code == 303
    assert draft.lines.get(words="Cutting").amount > 1
    answer = office_client.post(do("drop"))
    assert (answer.status_code, answer["Location"]) == (303, LIST)
    assert office_client.get(PAGE).status_code == 404


def test_a_date_is_tried_and_then_offered(office_client: Client, draft: Quote) -> None:
    day = cast.today() + timedelta(days=14)
    asked = {"if_approved_by": day.isoformat(), "confidence": "0.80"}
    answer = office_client.get(PAGE, asked)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "Ready to install by" in text
    assert "What it does to other jobs" not in text, "that is for the lead"
    draft.refresh_from_db()
    assert draft.ready_day is None
    assert office_client.post(do("date"), asked).status_code == 303
    draft.refresh_from_db()
    assert draft.if_approved_by == day
    assert draft.ready_day is not None
    assert draft.ready_day >= day


def test_the_lead_sees_what_it_does_to_others(lead_client: Client, draft: Quote) -> None:
    other = cast.make_job("0300", "Stair window", wanted_by=cast.today() + timedelta(days=90))
    cast.make_panel(other, 1, ("Assembly", "Assembly", "Assembly"))
    other.operations.update(estimate=3000)
    Job.objects.filter(number="0412").update(wanted_by=cast.today())
    assert draft.frozen is not None
    draft.frozen["estimates"][str(draft.job.panels.get().pk)]["assembly"] = 6000
    draft.save()
    # From today on, so that the other job has not been finished before.
    asked = {"if_approved_by": cast.today().isoformat(), "confidence": "0.80"}
    text = lead_client.get(PAGE, asked).content.decode()
    assert "What it does to other jobs" in text
    assert "later" in text
    assert "Stair window" in text


def test_a_day_that_is_over_is_refused(office_client: Client, draft: Quote) -> None:
    asked = {"if_approved_by": "2020-01-01", "confidence": "0.80"}
    for answer in (office_client.get(PAGE, asked), office_client.post(do("date"), asked)):
        assert answer.status_code == 422
        assert "today or on a day of the next two years" in answer.content.decode()
    assert office_client.get(PAGE, asked | {"confidence": "7"}).status_code == 422


def test_sent_accepted_and_ordered(office_client: Client, draft: Quote) -> None:
    assert office_client.post(do("send")).status_code == 303
    text = office_client.get(PAGE).content.decode()
    assert "The customer takes it" in text
    assert "Change the lines" not in text
    typed = {"answer": "Yes please", "approved": "on"}
    assert office_client.post(do("accept"), typed).status_code == 303
    job = Job.objects.get()
    assert job.stage == Stage.ORDERED
    assert job.gates.get(kind="drawing").cleared == cast.today()
    assert "Yes please" in office_client.get(PAGE).content.decode()
    answer = office_client.post(do("accept"))
    assert answer.status_code == 422
    assert "accepted already" in answer.content.decode()


def test_what_has_no_price_stops_the_sending(office_client: Client, job: Job) -> None:
    lamination = OperationKind.objects.get(slug="lamination")
    job.operations.create(panel=job.panels.get(), kind=lamination, estimate=1440, place=9)
    office_client.post(MAKE)
    assert "There is no price for Lamination of Light 1 yet." in office_client.get(PAGE).content.decode()
    answer = office_client.post(do("send"))
    assert answer.status_code == 422
    assert "Send it without these prices" in answer.content.decode()
    assert office_client.post(do("send"), {"without_prices": "on"}).status_code == 303


def test_declined(office_client: Client, sent: Quote) -> None:
    answer = office_client.post(do("decline"), {"answer": "x" * 201})
    assert answer.status_code == 422
    assert office_client.post(do("decline"), {"answer": "Too dear", "closes_job": "on"}).status_code == 303
    assert "Too dear" in office_client.get(LIST).content.decode()
    assert Job.objects.get().stage == Stage.DECLINED
    answer = office_client.post(MAKE)
    assert answer.status_code == 422
    assert "reopen it first" in answer.content.decode()


def test_what_a_later_version_changed(office_client: Client, sent: Quote) -> None:
    LaborRate.objects.create(kind=OperationKind.objects.get(slug="cutting"), hour=Decimal(200))
    office_client.post(MAKE)
    text = office_client.get(reverse("quote", args=["0412", 2])).content.decode()
    assert "What changed since version 1" in text
    assert [each.words for each in office_client.get(reverse("quote", args=["0412", 2])).context["changes"]][
        :1
    ] == ["Cutting"]
    answer = office_client.post(do("send"))
    assert answer.status_code == 422
    assert "Version 1 is sent" in answer.content.decode()


@pytest.mark.parametrize("verb", ["accept", "decline"])
def test_a_draft_has_no_answer(office_client: Client, draft: Quote, verb: str) -> None:
    answer = office_client.post(do(verb))
    assert answer.status_code == 422
    assert "has not been sent yet" in answer.content.decode()


@pytest.mark.parametrize("verb", ["change", "renew", "drop", "date"])
def test_what_is_sent_is_not_changed(office_client: Client, sent: Quote, verb: str) -> None:
    day = (cast.today() + timedelta(days=3)).isoformat()
    typed = {"valid_until": day, "if_approved_by": day, "confidence": "0.80"}
    answer = office_client.post(do(verb), typed)
    assert answer.status_code == 422
    assert "Version 1 is sent" in answer.content.decode()


def test_wrong_method_wrong_person_wrong_address(
    office_client: Client, tablet_client: Client, draft: Quote
) -> None:
    assert office_client.get(MAKE).status_code == 405
    assert office_client.get(do("send")).status_code == 405
    assert office_client.post(PAGE).status_code == 405
    assert office_client.post(do("burn")).status_code == 404
    assert office_client.get(reverse("quote", args=["0412", 9])).status_code == 404
    for address in (LIST, PAGE):
        assert tablet_client.get(address).status_code == 403
    assert tablet_client.post(do("send")).status_code == 403


def test_the_job_leads_to_its_quotes_and_materials(office_client: Client, draft: Quote) -> None:
    text = office_client.get(draft.job.get_absolute_url()).content.decode()
    assert LIST in text
    assert reverse("job-materials", args=["0412"]) in text


def typed_settings(**more: str) -> dict[str, str]:
    return {
        "part": "quotes",
        "markup": "25",
        "outside_markup": "15",
        "design_fee": "10",
        "tax": "8.25",
        "deposit": "50",
        "rounding": "5",
        "valid_days": "30",
        "risk_confidence": "80",
        "breakage": "",
        "terms": "Half with the order.",
        "bars_above_m2": "12.00",
    } | more


def test_how_quotes_are_made(lead_client: Client, lead: Account) -> None:
    assert 'value="25"' in lead_client.get(SET_UP).content.decode()
    assert lead_client.post(SET_UP, typed_settings()).status_code == 302
    row = QuoteSettings.current()
    assert (row.tax, row.rounding, row.breakage, row.terms) == (
        Decimal("0.0825"),
        Decimal(5),
        None,
        "Half with the order.",
    )
    assert Event.objects.filter(subject="quotesettings", verb="changed").count() == 1


def test_support_bars_in_the_studios_unit(lead_client: Client, lead: Account) -> None:
    """The studio of the tests measures in inches: 1.115 m² are 12.00 sq ft, and so shown."""
    page = lead_client.get(SET_UP).content.decode()
    assert "Support bars above, sq ft" in page
    assert 'value="12.00"' in page
    before = QuoteSettings.current().bars_above_m2
    lead_client.post(SET_UP, typed_settings(bars_above_m2="12.00"))
    assert QuoteSettings.current().bars_above_m2 == before
    lead_client.post(SET_UP, typed_settings(bars_above_m2="10"))
    assert QuoteSettings.current().bars_above_m2 == Decimal("0.929")


def test_settings_that_cannot_be(lead_client: Client, lead: Account) -> None:
    for name, wrong in (("risk_confidence", "30"), ("tax", "100"), ("valid_days", "0"), ("markup", "x")):
        answer = lead_client.post(SET_UP, typed_settings(**{name: wrong}))
        assert answer.status_code == 422
        assert f'value="{wrong}"' in answer.content.decode()
    assert QuoteSettings.current().tax == 0


def test_what_an_hour_is_sold_for(lead_client: Client, lead: Account) -> None:
    assert lead_client.post(SET_UP, {"part": "hours", "hour-cutting": "95"}).status_code == 302
    assert LaborRate.objects.get().hour == 95
    answer = lead_client.post(SET_UP, {"part": "hours", "hour-cutting": "-1"})
    assert answer.status_code == 422
    assert lead_client.post(SET_UP, {"part": "hours"}).status_code == 302
    assert not LaborRate.objects.exists()


def test_the_office_does_not_say_how_quotes_are_made(office_client: Client, lead: Account) -> None:
    assert office_client.post(SET_UP, typed_settings()).status_code == 403


def test_the_table_of_outside_work_in_the_studios_unit(lead_client: Client, lead: Account) -> None:
    """The studio of the tests measures in inches: a square foot is 0.09290304 m²."""
    kind = OperationKind.objects.get(name="Lamination")
    supplier = Supplier.objects.create(name="Quarry Road Lamination", days=9)
    typed = {
        "part": "outside",
        "new-kind": kind.pk,
        "new-supplier": supplier.pk,
        "new-price": "12.50",
        "new-minimum": "40",
        "new-days": "11",
    }
    assert lead_client.post(SET_UP, typed).status_code == 302
    row = OutsidePrice.objects.get()
    assert (row.price_m2, row.minimum, row.days) == (Decimal("134.5489"), Decimal(40), 11)
    text = lead_client.get(SET_UP).content.decode()
    assert "Price per sq ft" in text
    assert 'value="12.50"' in text
    # What nobody touched stays to the last place; twice the same row is refused.
    OutsidePrice.objects.update(price_m2=Decimal("134.6"))
    shown = {f"{row.pk}-price": "12.50", f"{row.pk}-minimum": "50", f"{row.pk}-days": "11"}
    answer = lead_client.post(SET_UP, typed | shown)
    assert answer.status_code == 422
    assert "change it above" in answer.content.decode()
    assert lead_client.post(SET_UP, {"part": "outside"} | shown).status_code == 302
    row.refresh_from_db()
    assert (row.price_m2, row.minimum) == (Decimal("134.6"), Decimal(50))
    assert lead_client.post(SET_UP, {"part": "outside"} | shown | {f"{row.pk}-price": ""}).status_code == 302
    assert not OutsidePrice.objects.exists()


def test_a_price_of_outside_work_that_is_not_whole(lead_client: Client, lead: Account) -> None:
    answer = lead_client.post(SET_UP, {"part": "outside", "new-price": "12"})
    assert answer.status_code == 422
    assert "its work, its supplier and an amount" in answer.content.decode()
    assert lead_client.post(SET_UP, {"part": "outside", "new-days": "-1"}).status_code == 422
