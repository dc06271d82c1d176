"""Work that rests for a reason."""

from uuid import uuid4

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.bench import start
from jobs.actions.holds import hold, release
from jobs.models import Account, Event, Hold, Job, Operation, Panel, PlanState, Stage, State, TimeEntry
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")


@pytest.fixture
def panel() -> Panel:
    return cast.make_panel(cast.make_job())


@pytest.fixture
def by_mara() -> Actor:
    return Actor(person=cast.person("Mara"))


def state_of(operation: Operation) -> str:
    return Operation.objects.with_state(at(2, "12:00")).get(pk=operation.pk).state


def test_a_hold_stops_the_timer_and_leaves_the_work_on_its_bench(panel: Panel, by_mara: Actor) -> None:
    cutting, mara = cast.operation_of(panel, "Cutting"), cast.person("Mara")
    entry = start(cutting, mara, by=by_mara, at=at(2, "08:00"))
    before = PlanState.current().revision
    held = hold(cutting, " glass missing ", by=by_mara, at=at(2, "09:00"), until=at(6).date())
    assert (held.reason, held.held_by, held.until) == ("glass missing", "Mara Lind", at(6).date())
    entry.refresh_from_db()
    cutting.refresh_from_db()
    assert (entry.minutes, cutting.keeper, state_of(cutting)) == (60, mara, State.HELD)
    assert PlanState.current().revision == before + 1
    release(held, by=by_mara, at=at(2, "10:00"))
    held.refresh_from_db()
    assert (held.released_at, held.released_by) == (at(2, "10:00"), "Mara Lind")
    assert state_of(cutting) == State.ON_BENCH
    assert set(Event.objects.values_list("verb", flat=True)) == {"started", "stopped", "held", "released"}


def test_a_panel_and_a_job_are_held(panel: Panel, by_mara: Actor, office: Account) -> None:
    jonas = cast.person("Jonas")
    other = cast.operation_of(cast.make_panel(panel.job, 2), "Cutting")
    start(cast.operation_of(panel, "Cutting"), cast.person("Mara"), by=by_mara, at=at(2, "08:00"))
    start(other, jonas, by=Actor(person=jonas), at=at(2, "08:00"))
    of_panel = hold(panel, "wrong size", by=by_mara, at=at(2, "09:00"))
    assert [entry.person for entry in TimeEntry.objects.running()] == [jonas]
    with pytest.raises(Refused, match="Only the office"):
        hold(panel.job, "not paid", by=by_mara, at=at(2, "09:10"))
    hold(panel.job, "not paid", by=Actor(account=office), at=at(2, "09:20"))
    assert not TimeEntry.objects.running().exists()
    release(of_panel, by=by_mara, at=at(2, "10:00"))
    assert state_of(cast.operation_of(panel, "Cutting")) == State.HELD
    assert Hold.objects.get(job=panel.job).held_by == "Emil Horn"


def test_the_same_hold_sent_twice_is_one(panel: Panel, by_mara: Actor) -> None:
    tap, cutting = uuid4(), cast.operation_of(panel, "Cutting")
    first = hold(cutting, "came missing", by=by_mara, at=at(2), client_id=tap)
    assert hold(cutting, "came missing", by=by_mara, at=at(2, "08:01"), client_id=tap) == first
    assert Hold.objects.count() == 1


def test_a_hold_is_refused(panel: Panel, by_mara: Actor) -> None:
    cutting = cast.operation_of(panel, "Cutting")

    def refused(sentence: str, reason: str = "glass missing", day: int | None = None) -> None:
        with pytest.raises(Refused, match=sentence):
            hold(cutting, reason, by=by_mara, at=at(3), until=at(day).date() if day else None)

    refused("Say what it waits for", reason="  ")
    refused("200 letters", reason="x" * 201)
    refused("That day is over", day=2)
    hold(cutting, "came missing", by=by_mara, at=at(2))
    refused("held already: came missing")
    Hold.objects.all().delete()
    Operation.objects.filter(pk=cutting.pk).update(finished_at=at(2))
    refused("finished already")
    Job.objects.update(stage=Stage.CANCELLED)
    refused("cancelled")
    assert not Hold.objects.exists()


def test_a_release_is_refused_when_it_is_not_held_any_more(panel: Panel, by_mara: Actor) -> None:
    held = hold(panel, "wrong size", by=by_mara, at=at(2))
    release(held, by=by_mara, at=at(2, "09:00"))
    with pytest.raises(Refused, match="not held any more"):
        release(held, by=by_mara, at=at(2, "09:01"))
