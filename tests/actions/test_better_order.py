"""A better order, accepted as places and taken back."""

from datetime import date

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.better_order import accept_order, look_for_order, order_in_force, take_back_order
from jobs.models import Account, Event, Job, Operation, Person, PlanState
from jobs.snapshot import read_shop
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
NOW = at(2, "08:00")


@pytest.fixture
def nora(lead: Account) -> Actor:
    return Actor(account=lead)


@pytest.fixture
def long_and_short() -> tuple[Job, Job]:
    """One beveler; the long job is due a little before two short ones, which it makes late."""
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 100})
    Person.objects.filter(name="Ilse Roth").update(active=False)
    long_one = cast.make_job("0412", wanted_by=date(2026, 3, 5))
    for number in range(1, 8):
        cast.make_panel(long_one, number=number, kinds=("Beveling",))
    short_one = cast.make_job("0413", wanted_by=date(2026, 3, 6))
    cast.make_panel(short_one, kinds=("Beveling",))
    return long_one, short_one


def places(job: Job) -> set[int | None]:
    return set(job.operations.values_list("pinned_place", flat=True))


def test_a_better_order_is_found_accepted_and_kept_by_the_planner(
    long_and_short: tuple[Job, Job], nora: Actor
) -> None:
    long_one, short_one = long_and_short
    found = look_for_order(at=NOW, tries=20)
    assert found is not None
    assert found.order == (short_one.pk, long_one.pk)
    assert found.gain > 0
    before = PlanState.current().revision
    assert accept_order(found.order, by=nora, at=NOW) == 8
    assert (places(short_one), places(long_one)) == ({0}, {1})
    assert PlanState.current().revision == before + 1
    assert order_in_force() == Event.objects.get()
    assert {each.place for each in read_shop(NOW).operations} == {0, 1}


def test_no_better_order_where_there_is_one_job() -> None:
    cast.make_panel(cast.make_job(wanted_by=date(2026, 3, 3)))
    assert look_for_order(at=NOW, tries=5) is None


def test_what_was_placed_by_hand_or_lies_on_a_bench_is_left_alone(
    long_and_short: tuple[Job, Job], nora: Actor
) -> None:
    long_one, short_one = long_and_short
    by_hand, on_bench = long_one.operations.all()[:2]
    Operation.objects.filter(pk=by_hand.pk).update(pinned_place=4)
    Operation.objects.filter(pk=on_bench.pk).update(keeper=cast.person("Mara"))
    assert accept_order([short_one.pk, long_one.pk], by=nora, at=NOW) == 6
    assert places(short_one) == {5}
    assert places(long_one) == {4, None, 6}


def test_taking_back_leaves_what_was_moved_since(long_and_short: tuple[Job, Job], nora: Actor) -> None:
    long_one, short_one = long_and_short
    accept_order([short_one.pk, long_one.pk], by=nora, at=NOW)
    moved = long_one.operations.earliest("pk")
    Operation.objects.filter(pk=moved.pk).update(pinned_place=-1)
    assert take_back_order(by=nora, at=NOW) == 7
    assert places(short_one) == {None}
    assert places(long_one) == {None, -1}
    assert order_in_force() is None


def test_refusals(long_and_short: tuple[Job, Job], nora: Actor, office: Account) -> None:
    order = [job.pk for job in long_and_short]
    with pytest.raises(Refused, match="No better order is in force"):
        take_back_order(by=nora, at=NOW)
    with pytest.raises(Refused, match="Only the lead"):
        accept_order(order, by=Actor(account=office), at=NOW)
    with pytest.raises(Refused, match="No work of these jobs"):
        accept_order([999], by=nora, at=NOW)
    accept_order(order, by=nora, at=NOW)
    with pytest.raises(Refused, match="in force already"):
        accept_order(order, by=nora, at=NOW)
    with pytest.raises(Refused, match="Only the lead"):
        take_back_order(by=Actor(account=office), at=NOW)
