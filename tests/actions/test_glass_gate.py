"""The gate that waits for glass, when glass comes onto the list after it was cleared."""

from datetime import date
from decimal import Decimal

import pytest

from jobs.actions import Actor
from jobs.actions.gates import clear_gate, reopen_gate
from jobs.actions.materials import reckon_needs
from jobs.actions.purchases import add_need, order_need, receive_need, remove_need
from jobs.models import Account, Event, Gate, Glass, Job, PlanState
from tests import cast, quoting

MORNING = cast.at(2, "10:00")
TODAY = date(2026, 3, 2)


@pytest.fixture
def job(office: Account) -> Job:
    """Red and blue are needed, and waited for."""
    quoting.make_stock()
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    cast.make_gate(job, "glass")
    return job


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def all_here(job: Job, by: Actor) -> Job:
    reckon_needs(job, by=by, at=MORNING)
    for need in job.needs.filter(gate="glass"):
        receive_need(need, by=by, at=MORNING)
    assert Gate.objects.get().cleared == TODAY
    return job


def add(job: Job, name: str, by: Actor) -> None:
    add_need(job, Glass.objects.get(name=name), amount=Decimal(1), by=by, at=MORNING)


def test_glass_added_by_hand_is_waited_for(all_here: Job, by: Actor) -> None:
    before = PlanState.objects.get().revision
    add(all_here, "Red", by)
    gate = Gate.objects.get()
    assert (gate.cleared, gate.expected) == (None, None)
    assert PlanState.objects.get().revision > before
    told = Event.objects.get(verb="opened again")
    assert (told.why, told.before, told.job) == (
        "Red came onto the list",
        {"cleared": "2026-03-02"},
        all_here,
    )
    need = all_here.needs.open().get(gate="glass")
    order_need(need, by=by, at=MORNING)
    assert Gate.objects.get().expected == date(2026, 3, 12)
    receive_need(need, by=by, at=cast.at(11))
    assert Gate.objects.get().cleared == date(2026, 3, 11)


def test_more_glass_by_the_takeoff_is_waited_for(all_here: Job, by: Actor) -> None:
    all_here.panels.update(copies=2)
    reckon_needs(all_here, by=by, at=MORNING)
    assert Gate.objects.get().cleared is None
    # It is told once, whatever the number of glasses.
    assert Event.objects.filter(verb="opened again").count() == 1
    # Not needed after all: what is needed has arrived.
    all_here.panels.update(copies=1)
    reckon_needs(all_here, by=by, at=cast.at(3))
    assert Gate.objects.get().cleared == date(2026, 3, 3)


def test_glass_taken_off_the_list_is_not_waited_for(all_here: Job, by: Actor) -> None:
    add(all_here, "Red", by)
    remove_need(all_here.needs.open().get(gate="glass"), by=by, at=MORNING)
    assert Gate.objects.get().cleared == TODAY


def test_the_last_glass_taken_off_leaves_the_gate(job: Job, by: Actor) -> None:
    add(job, "Red", by)
    remove_need(job.needs.get(), by=by, at=MORNING)
    assert Gate.objects.get().cleared is None


def test_came_is_not_waited_for(all_here: Job, by: Actor) -> None:
    all_here.panels.update(copies=1)
    all_here.needs.filter(came__isnull=False).delete()
    reckon_needs(all_here, by=by, at=MORNING)
    assert Gate.objects.get().cleared == TODAY


def test_the_first_list_tells_what_is_in_already(job: Job, by: Actor) -> None:
    clear_gate(job, "glass", by=by, at=MORNING)
    reckon_needs(job, by=by, at=MORNING)
    assert job.needs.open().filter(gate="glass").count() == 2
    assert Gate.objects.get().cleared == TODAY


def test_reckoning_alone_clears_nothing(all_here: Job, by: Actor) -> None:
    reopen_gate(all_here, "glass", by=by, at=MORNING)
    reckon_needs(all_here, by=by, at=MORNING)
    assert Gate.objects.get().cleared is None


def test_a_job_that_waits_for_no_glass(job: Job, by: Actor) -> None:
    Gate.objects.all().delete()
    add(job, "Red", by)
    assert not Gate.objects.exists()
