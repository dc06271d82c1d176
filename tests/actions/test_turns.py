"""Whose turn it is: work given to a person, put first, let start early, sent out and come back."""

import pytest

from jobs.actions import Actor, Refused, turns
from jobs.models import Account, Event, Operation, Panel, State
from tests import cast

NOW = cast.at(3)


@pytest.fixture
def panel(shop: None) -> Panel:
    return cast.make_panel(cast.make_job())


def named(panel: Panel, *names: str) -> list[Operation]:
    return [cast.operation_of(panel, name) for name in names]


def state(operation: Operation) -> str:
    return Operation.objects.with_state(NOW).get(pk=operation.pk).state  # type: ignore[attr-defined]


def test_pin_needs_the_skill(panel: Panel, lead: Account) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    assert turns.pin_person(beveling, cast.person("Ilse"), by=Actor(lead), at=NOW).pinned_person
    with pytest.raises(Refused, match="Jonas Beck does not work at Beveling"):
        turns.pin_person(beveling, cast.person("Jonas"), by=Actor(lead), at=NOW)
    gone = cast.person("Mara")
    gone.active = False
    with pytest.raises(Refused, match="does not work here any more"):
        turns.pin_person(beveling, gone, by=Actor(lead), at=NOW)
    assert turns.pin_person(beveling, None, by=Actor(lead), at=NOW).pinned_person is None


def test_first_is_before_everything_else_at_the_station(panel: Panel, lead: Account) -> None:
    other = cast.make_panel(cast.make_job("0413"))
    mine, theirs = (cast.operation_of(p, "Cutting") for p in (panel, other))
    assert turns.put_first(mine, by=Actor(lead), at=NOW).pinned_place == -1
    assert turns.put_first(theirs, by=Actor(lead), at=NOW).pinned_place == -2
    with pytest.raises(Refused, match="first at Cutting already"):
        turns.put_first(theirs, by=Actor(lead), at=NOW)
    assert turns.unpin(theirs, by=Actor(lead), at=NOW).pinned_place is None
    with pytest.raises(Refused, match="by the rule already"):
        turns.unpin(theirs, by=Actor(lead), at=NOW)


def test_early_is_the_leads_to_allow(panel: Panel, lead: Account, office: Account) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    with pytest.raises(Refused, match="Only the lead"):
        turns.allow_early(beveling, why="rush", by=Actor(office), at=NOW)
    with pytest.raises(Refused, match="why it may"):
        turns.allow_early(beveling, why=" ", by=Actor(lead), at=NOW)
    with pytest.raises(Refused, match="waits for its turn already"):
        turns.make_wait(beveling, by=Actor(lead), at=NOW)
    turns.allow_early(beveling, why="rush", by=Actor(lead), at=NOW)
    assert state(beveling) == State.READY
    assert Event.objects.get(verb="allowed to start early").why == "rush"
    with pytest.raises(Refused, match="early already"):
        turns.allow_early(beveling, why="rush", by=Actor(lead), at=NOW)
    with pytest.raises(Refused, match="Only the lead"):
        turns.make_wait(beveling, by=Actor(office), at=NOW)
    turns.make_wait(beveling, by=Actor(lead), at=NOW)
    assert state(beveling) == State.WAITING


def test_out_and_back(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Assembly", "Lamination", "Cure"))
    assembly, lamination, cure = named(panel, "Assembly", "Lamination", "Cure")
    with pytest.raises(Refused, match="cannot go out before Assembly is finished"):
        turns.send_out(lamination, by=Actor(lead), at=NOW)
    with pytest.raises(Refused, match="has not been sent out"):
        turns.came_back(lamination, by=Actor(lead), at=NOW)
    Operation.objects.filter(pk=assembly.pk).update(finished_at=cast.at(2))
    turns.send_out(lamination, by=Actor(lead), at=NOW)
    panel.refresh_from_db()
    assert (state(lamination), panel.where) == (State.ON_BENCH, "out: Lamination")
    with pytest.raises(Refused, match="out already"):
        turns.send_out(lamination, by=Actor(lead), at=NOW)
    turns.not_out(lamination, by=Actor(lead), at=NOW)
    with pytest.raises(Refused, match="is not out"):
        turns.not_out(lamination, by=Actor(lead), at=NOW)
    turns.send_out(lamination, by=Actor(lead), at=NOW)
    turns.came_back(lamination, by=Actor(lead), at=cast.at(20))
    lamination.refresh_from_db()
    cure.refresh_from_db()
    assert lamination.finished_at == cure.started_at == cast.at(20)
    with pytest.raises(Refused, match="finished already"):
        turns.came_back(lamination, by=Actor(lead), at=NOW)


def test_work_inside_is_not_sent_out_and_outside_work_not_given(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Assembly", "Lamination"))
    assembly, lamination = named(panel, "Assembly", "Lamination")
    for verb in (turns.send_out, turns.not_out, turns.came_back):
        with pytest.raises(Refused, match="done in the studio"):
            verb(assembly, by=Actor(lead), at=NOW)
    for call in (
        lambda: turns.pin_person(lamination, None, by=Actor(lead), at=NOW),
        lambda: turns.put_first(lamination, by=Actor(lead), at=NOW),
    ):
        with pytest.raises(Refused, match="without any of our people"):
            call()
