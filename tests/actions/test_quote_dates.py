"""The date of a quote: the job in the present plan as if approved and paid on a day."""

from datetime import date
from decimal import Decimal

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.plan import replan
from jobs.actions.quote_dates import APPROVED, date_offer, offer_day
from jobs.actions.quotes import make_quote, send_quote
from jobs.models import (
    Account,
    Event,
    Glass,
    Job,
    OperationKind,
    OutsidePrice,
    PlanState,
    Quote,
    Skill,
    Stage,
    Supplier,
)
from tests import cast, quoting

MORNING = cast.at(2, "10:00")
EIGHTY = Decimal("0.80")


@pytest.fixture(autouse=True)
def few_futures(shop: None) -> None:
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 60})


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def quote(by: Actor) -> Quote:
    """Two days of work or so, which wait for nothing but the approval."""
    quoting.make_stock()
    Glass.objects.update(supplier=None)
    job = quoting.make_enquiry()
    assert by.account is not None
    quoting.take_off(job.panels.get(), by.account)
    return make_quote(job, by=by, at=MORNING)


def test_nothing_begins_before_the_day_of_approval(quote: Quote) -> None:
    offer = date_offer(quote, date(2026, 4, 13), EIGHTY, at=MORNING)
    planned = offer.effect.plan.operations
    rows = list(quote.job.operations.values_list("pk", flat=True))
    assert min(planned[pk].start for pk in rows).date() == date(2026, 4, 13)
    # The tenth of a year's record of late gates says nothing here: the date is given for that very day.
    assert [gate.kind for gate in offer.effect.shop.gates] == [APPROVED]
    assert date(2026, 4, 13) <= offer.day <= date(2026, 4, 20)
    later = date_offer(quote, date(2026, 5, 11), EIGHTY, at=MORNING)
    assert later.day > offer.day


def test_the_day_holds_with_the_confidence(quote: Quote) -> None:
    offer = date_offer(quote, date(2026, 4, 13), EIGHTY, at=MORNING)
    plan = offer.effect.plan
    assert plan.chance(quote.job.pk, offer.day) >= 0.8
    surer = date_offer(quote, date(2026, 4, 13), Decimal("0.95"), at=MORNING)
    assert surer.day >= offer.day


def test_a_day_on_which_nobody_works_is_not_offered(quote: Quote) -> None:
    # 14 March 2026 is a Saturday; whatever is finished then is handed over on a working day.
    for day in range(9, 14):
        assert date_offer(quote, date(2026, 3, day), EIGHTY, at=MORNING).day.weekday() < 5


def test_glass_is_ordered_on_the_day_of_approval(quote: Quote) -> None:
    Glass.objects.update(supplier=Supplier.objects.get(name="Northgate Glass"))
    offer = date_offer(quote, date(2026, 4, 13), EIGHTY, at=MORNING)
    cutting = quote.job.operations.get(kind__slug="cutting")
    # Ten days after the 13th.
    assert offer.effect.plan.operations[cutting.pk].start.date() == date(2026, 4, 23)


def test_outside_work_takes_the_days_of_its_supplier(quote: Quote) -> None:
    """As it will once the job is ordered, when the supplier of the table is chosen."""
    job = quoting.make_enquiry("0499", ("Lamination",))
    kind, supplier = (
        OperationKind.objects.get(name="Lamination"),
        Supplier.objects.get(name="Northgate Glass"),
    )
    OutsidePrice.objects.create(kind=kind, supplier=supplier, price_m2=200, days=15)
    offered = Quote(job=job, frozen={})
    offer = date_offer(offered, date(2026, 4, 13), EIGHTY, at=MORNING)
    assert [row.minutes for row in offer.effect.shop.operations if row.job == job.pk] == [15 * 24 * 60]


def test_the_hours_are_those_quoted(quote: Quote) -> None:
    assert quote.frozen is not None
    panel = str(quote.job.panels.get().pk)
    quote.frozen["estimates"][panel] = {"cutting": 600, "assembly": 700}
    offer = date_offer(quote, date(2026, 4, 13), EIGHTY, at=MORNING)
    minutes = {
        OperationKind.objects.get(pk=row.kind).slug: row.minutes
        for row in offer.effect.shop.operations
        if row.job == quote.job.pk
    }
    assert minutes == {"cutting": 600, "assembly": 700}


def test_what_it_does_to_others(quote: Quote) -> None:
    """Jonas alone assembles; an earlier wish goes first, so the other job comes later."""
    other = cast.make_job("0300", wanted_by=date(2026, 3, 31))
    cast.make_panel(other, 1, ("Assembly",) * 3)
    Skill.objects.filter(station__slug="assembly").exclude(person__name="Jonas Beck").delete()
    Job.objects.filter(pk=quote.job.pk).update(wanted_by=date(2026, 3, 6))
    quote.job.refresh_from_db()
    assert quote.frozen is not None
    quote.frozen["estimates"][str(quote.job.panels.get().pk)]["assembly"] = 3000
    moved = date_offer(quote, date(2026, 3, 2), EIGHTY, at=MORNING).effect.moved
    assert [row.job for row in moved] == [other.pk]
    assert moved[0].days > 0
    assert not Event.objects.filter(subject="quote", verb="dated").exists(), "only asked"


def test_the_date_is_written_into_the_draft(quote: Quote, by: Actor) -> None:
    dated = offer_day(quote, date(2026, 4, 13), EIGHTY, by=by, at=MORNING)
    quote.refresh_from_db()
    offer = date_offer(quote, date(2026, 4, 13), EIGHTY, at=MORNING)
    assert (quote.ready_day, quote.if_approved_by, quote.confidence) == (offer.day, date(2026, 4, 13), EIGHTY)
    assert dated.ready_day == quote.ready_day
    assert Event.objects.filter(subject="quote", verb="dated").count() == 1


def test_the_plan_of_the_shop_is_not_touched(quote: Quote) -> None:
    replan(at=MORNING, force=True)
    before = PlanState.objects.values().get()
    date_offer(quote, date(2026, 4, 13), EIGHTY, at=MORNING)
    assert PlanState.objects.values().get() == before


def test_dates_that_are_refused(quote: Quote, by: Actor, tablet: Account) -> None:
    with pytest.raises(Refused, match="today or on a day") as refused:
        date_offer(quote, date(2026, 3, 1), EIGHTY, at=MORNING)
    assert refused.value.field == "if_approved_by"
    with pytest.raises(Refused, match="50 to 99"):
        date_offer(quote, date(2026, 4, 13), Decimal("0.3"), at=MORNING)
    with pytest.raises(Refused, match="Only the office"):
        offer_day(quote, date(2026, 4, 13), EIGHTY, by=Actor(account=tablet), at=MORNING)
    send_quote(quote, by=by, at=MORNING)
    with pytest.raises(Refused, match="Version 1 is sent"):
        offer_day(quote, date(2026, 4, 13), EIGHTY, by=by, at=MORNING)
    Job.objects.update(stage=Stage.ORDERED)
    quote.job.refresh_from_db()
    with pytest.raises(Refused, match="stands in the plan already"):
        date_offer(quote, date(2026, 4, 13), EIGHTY, at=MORNING)


def test_what_nobody_can_do_has_no_date(quote: Quote) -> None:
    Skill.objects.filter(station__slug="assembly").delete()
    with pytest.raises(Refused, match=r"[Aa]ssembly"):
        date_offer(quote, date(2026, 4, 13), EIGHTY, at=MORNING)
