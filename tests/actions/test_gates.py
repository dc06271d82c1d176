"""Gates of a job: expected, cleared, opened again, not needed."""

from datetime import date

import pytest

from jobs.actions import Actor, Refused
from jobs.actions import gates as act
from jobs.models import Account, Event, Gate, PlanState, Stage
from tests import cast

NOW = cast.at(3)


def test_set_makes_it_and_moves_its_day(lead: Account) -> None:
    job = cast.make_job()
    act.set_gate(job, "glass", None, by=Actor(lead), at=NOW)
    act.set_gate(job, "glass", date(2026, 3, 20), by=Actor(lead), at=NOW)
    assert Gate.objects.get().expected == date(2026, 3, 20)
    assert [e.verb for e in Event.objects.order_by("pk")] == ["added", "expected"]


def test_clear_today_and_back(lead: Account) -> None:
    job = cast.make_job()
    cast.make_gate(job, "drawing")
    revision = PlanState.current().revision
    # 23:30 in Vienna is still the 3rd there, whatever the day is elsewhere.
    assert act.clear_gate(job, "drawing", by=Actor(lead), at=cast.at(3, "23:30")).cleared == date(2026, 3, 3)
    assert PlanState.current().revision == revision + 1
    with pytest.raises(Refused, match="cleared already"):
        act.clear_gate(job, "drawing", by=Actor(lead), at=NOW)
    with pytest.raises(Refused, match="cleared already"):
        act.set_gate(job, "drawing", None, by=Actor(lead), at=NOW)
    assert act.reopen_gate(job, "drawing", by=Actor(lead), at=NOW).cleared is None
    with pytest.raises(Refused, match="not cleared yet"):
        act.reopen_gate(job, "drawing", by=Actor(lead), at=NOW)


def test_clear_on_an_earlier_day_but_not_a_later_one(lead: Account) -> None:
    job = cast.make_job()
    cast.make_gate(job, "drawing")
    with pytest.raises(Refused, match="not come yet"):
        act.clear_gate(job, "drawing", day=date(2026, 3, 4), by=Actor(lead), at=NOW)
    cleared = act.clear_gate(job, "drawing", day=date(2026, 2, 27), by=Actor(lead), at=NOW)
    assert cleared.cleared == date(2026, 2, 27)


def test_remove(lead: Account) -> None:
    job = cast.make_job()
    cast.make_gate(job, "deposit", expected=date(2026, 3, 9))
    act.remove_gate(job, "deposit", by=Actor(lead), at=NOW)
    assert not Gate.objects.exists()
    assert Event.objects.get(verb="taken out").before["expected"] == "2026-03-09"


@pytest.mark.parametrize("verb", [act.clear_gate, act.reopen_gate, act.remove_gate])
def test_refuses_a_gate_that_is_not_there(lead: Account, verb: object) -> None:
    job = cast.make_job()
    with pytest.raises(Refused, match="does not wait for that: deposit in"):
        verb(job, "deposit", by=Actor(lead), at=NOW)  # type: ignore[operator]
    with pytest.raises(Refused, match="no such gate"):
        verb(job, "moon", by=Actor(lead), at=NOW)  # type: ignore[operator]


def test_refuses_an_unknown_kind_and_a_closed_job(lead: Account) -> None:
    with pytest.raises(Refused, match="no such gate"):
        act.set_gate(cast.make_job(), "moon", None, by=Actor(lead), at=NOW)
    with pytest.raises(Refused, match="reopen it first"):
        act.set_gate(cast.make_job("2", stage=Stage.CANCELLED), "glass", None, by=Actor(lead), at=NOW)
