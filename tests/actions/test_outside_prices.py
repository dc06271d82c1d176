"""What suppliers take for outside work, and what a job's list and its quote make of it."""

from datetime import date
from decimal import Decimal

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.materials import reckon, reckon_needs
from jobs.actions.operations import change_estimate
from jobs.actions.outside_prices import set_outside_prices
from jobs.actions.purchases import change_need, order_need
from jobs.actions.quotes import make_quote
from jobs.estimating.pricing import OutsideOffer
from jobs.models import Account, Event, Job, OperationKind, OutsidePrice, PlanState, Supplier
from tests import cast, quoting

MORNING = cast.at(2, "10:00")


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


@pytest.fixture
def job(by: Actor) -> Job:
    """A panel of 600 x 900 mm that is laminated outside, at Northgate for 200 a square meter and at least 90."""
    quoting.make_stock()
    job = quoting.make_enquiry("0412", ("Cutting", "Lamination"))
    set_price(by, "Northgate Glass", OutsideOffer(Decimal(200), Decimal(90), 15))
    return job


def set_price(by: Actor, supplier: str, offer: OutsideOffer | None, kind: str = "Lamination") -> int:
    place = OperationKind.objects.get(name=kind), Supplier.objects.get(name=supplier)
    return set_outside_prices({place: offer}, by=by, at=MORNING)


def test_the_table_prices_the_panel_and_all_its_copies(job: Job, by: Actor) -> None:
    thing = reckon(job).things[0]
    assert (thing.price, str(thing.supplier), thing.days) == (Decimal("108.00"), "Northgate Glass", 15)
    job.panels.update(copies=2)
    assert reckon(job).things[0].price == Decimal("216.00")
    job.panels.update(copies=1, width_mm=200)
    assert reckon(job).things[0].price == Decimal(90)


def test_the_supplier_who_costs_least_is_taken(job: Job, by: Actor) -> None:
    set_price(by, "Mill Lane Metals", OutsideOffer(Decimal(150), Decimal(0), 20))
    thing = reckon(job).things[0]
    assert (thing.price, str(thing.supplier)) == (Decimal("81.00"), "Mill Lane Metals")
    Supplier.objects.filter(name="Mill Lane Metals").update(active=False)
    assert str(reckon(job).things[0].supplier) == "Northgate Glass"


def test_the_quote_has_its_line_and_misses_no_price(job: Job, by: Actor) -> None:
    quote = make_quote(job, by=by, at=MORNING)
    # 108 and a markup of 15 %.
    assert quote.lines.get(group="outside").amount == Decimal("124.20")
    assert quote.frozen is not None
    assert quote.frozen["unpriced"] == []


def test_without_a_table_the_price_is_missing(job: Job, by: Actor) -> None:
    set_price(by, "Northgate Glass", None)
    quote = make_quote(job, by=by, at=MORNING)
    assert quote.frozen is not None
    assert quote.frozen["unpriced"] == ["There is no price for Lamination of Light 1 yet."]


def test_ordered_it_is_expected_after_the_days_of_that_work(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    need = job.needs.get()
    need.needed_by = date(2026, 3, 20)
    # It goes out on the day it is needed by.
    assert (need.lead_days, need.order_by) == (15, date(2026, 3, 20))
    assert order_need(need, by=by, at=MORNING).expected == date(2026, 3, 17)


def out_for(job: Job) -> int:
    """How many days the plan has the work out."""
    days, rest = divmod(cast.operation_of(job.panels.get(), "Lamination").estimate, 24 * 60)
    assert rest == 0
    return days


def test_the_plan_has_it_out_for_the_days_of_its_supplier(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    assert out_for(job) == 15
    # The dates are out of date by it.
    assert PlanState.objects.get().revision > 0
    told = Event.objects.get(verb="estimated anew")
    assert told.why == "Northgate Glass takes 15 days"
    # A supplier chosen by hand, for whom the table has no days: the usual ones.
    metals = Supplier.objects.get(name="Mill Lane Metals")
    change_need(job.needs.get(), amount=Decimal(1), price=Decimal(300), supplier=metals, by=by, at=MORNING)
    assert out_for(job) == 5


def test_an_estimate_by_hand_stays_until_another_is_chosen(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    row = cast.operation_of(job.panels.get(), "Lamination")
    change_estimate(row, 3 * 24 * 60, why="they promised", by=by, at=MORNING)
    reckon_needs(job, by=by, at=MORNING)
    assert out_for(job) == 3
    set_price(by, "Northgate Glass", OutsideOffer(Decimal(200), Decimal(90), 21))
    reckon_needs(job, by=by, at=MORNING)
    assert out_for(job) == 21


def test_what_is_out_already_keeps_its_days(job: Job, by: Actor) -> None:
    row = cast.operation_of(job.panels.get(), "Lamination")
    row.started_at = cast.at(2, "09:00")
    row.save()
    before = row.estimate
    reckon_needs(job, by=by, at=MORNING)
    row.refresh_from_db()
    assert (row.estimate, job.needs.get().days) == (before, 15)


def test_without_a_supplier_the_plan_keeps_its_days(job: Job, by: Actor) -> None:
    before = cast.operation_of(job.panels.get(), "Lamination").estimate
    set_price(by, "Northgate Glass", None)
    reckon_needs(job, by=by, at=MORNING)
    assert cast.operation_of(job.panels.get(), "Lamination").estimate == before


def test_a_price_set_by_hand_or_ordered_at_holds(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    need = job.needs.get()
    metals = Supplier.objects.get(name="Mill Lane Metals")
    change_need(need, amount=Decimal(1), price=Decimal(300), supplier=metals, by=by, at=MORNING)
    need.refresh_from_db()
    # The days of the table are of another supplier.
    assert (need.days, need.lead_days) == (None, 5)
    set_price(by, "Northgate Glass", OutsideOffer(Decimal(1), Decimal(1), 1))
    assert reckon(job).things[0].price == Decimal(300)


def test_a_price_that_is_not_fixed_follows_the_table(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    assert set_price(by, "Northgate Glass", OutsideOffer(Decimal(300), Decimal(90), 15)) == 1
    reckon_needs(job, by=by, at=MORNING)
    assert job.needs.get().price == Decimal("162.00")


def test_the_table_is_written_down_once(job: Job, by: Actor) -> None:
    offer = OutsideOffer(Decimal(200), Decimal(90), 15)
    assert set_price(by, "Northgate Glass", offer) == 0
    assert Event.objects.filter(verb="priced anew").count() == 1
    assert set_price(by, "Northgate Glass", None) == 1
    assert not OutsidePrice.objects.exists()


def test_refusals_of_a_price(job: Job, by: Actor, office: Account) -> None:
    offer = OutsideOffer(Decimal(1))
    with pytest.raises(Refused, match="Only the lead"):
        set_price(Actor(account=office), "Northgate Glass", offer)
    with pytest.raises(Refused, match="done in the studio"):
        set_price(by, "Northgate Glass", offer, kind="Cutting")
    with pytest.raises(Refused, match="more than can be"):
        set_price(by, "Northgate Glass", OutsideOffer(Decimal(1), days=1001))
