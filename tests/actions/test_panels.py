"""Panels: made from a route with its conditions, changed, moved, taken out."""

from decimal import Decimal

import pytest

from jobs.actions import Actor, Refused
from jobs.actions import panels as act
from jobs.models import Account, Event, Nature, Operation, OperationKind, Panel, Route, RouteStep, Stage
from tests import cast

NOW = cast.at(3)


def add_step(kind: str, after: str, **values: object) -> RouteStep:
    route = Route.objects.get()
    before = route.steps.get(kind__name=after)
    step = RouteStep.objects.create(
        route=route, kind=OperationKind.objects.get(name=kind), place=route.steps.count(), **values
    )
    step.after.add(before)
    return step


def add(lead: Account, job: object = None, **values: object) -> Panel:
    start = {
        "name": "Light 1",
        "width_mm": Decimal(600),
        "height_mm": Decimal(900),
        "route": Route.objects.get(),
        "pieces": 10,
    }
    draft = act.PanelDraft(**start | values)  # type: ignore[arg-type]
    return act.add_panel(job or cast.make_job(), draft, by=Actor(lead), at=NOW)  # type: ignore[arg-type]


def test_estimates_count_pieces_and_copies(lead: Account) -> None:
    panel = add(lead, copies=3)
    assert cast.operation_of(panel, "Cutting").estimate == 3 * (30 + 6 * 10)
    assert cast.operation_of(panel, "Cutting").quantity == 30
    assert cast.operation_of(panel, "Assembly").estimate == 3 * 240


def test_copies_cure_together(lead: Account) -> None:
    add_step("Cure", "Assembly", minutes=2880)
    assert cast.operation_of(add(lead, copies=4), "Cure").estimate == 2880


def test_a_step_whose_condition_does_not_hold_is_bridged(lead: Account) -> None:
    add_step("Lamination", "Assembly", condition="laminated", minutes=14400)
    add_step("Blasting", "Lamination")
    job = cast.make_job()
    without = add(lead, job)
    assert [str(o) for o in cast.operation_of(without, "Blasting").after.all()] == ["Assembly"]
    assert not without.operations.filter(kind__nature=Nature.OUTSIDE).exists()
    with_it = add(lead, job, name="Light 2", conditions=frozenset({"laminated"}))
    assert [str(o) for o in cast.operation_of(with_it, "Blasting").after.all()] == ["Lamination"]


def test_given_minutes_are_shared_by_the_steps_of_a_kind(lead: Account) -> None:
    add_step("Cutting", "Cutting", label="Cutting, border", minutes=30, piece_minutes=Decimal(6))
    panel = add(lead, minutes={"cutting": 101})
    parts = panel.operations.filter(kind__name="Cutting").values_list("estimate", flat=True)
    assert sorted(parts) == [50, 51]


def test_a_later_panel_joins_the_open_delivery(lead: Account) -> None:
    add_step("Delivery", "Assembly", minutes=60, piece_minutes=Decimal(1))
    job = cast.make_job()
    add(lead, job)
    add(lead, job, name="Light 2")
    delivery = job.operations.get(panel=None)
    assert delivery.after.count() == 2
    assert delivery.estimate == 60 + 10 + 10


def test_a_panel_after_the_delivery_gets_another_one(lead: Account) -> None:
    add_step("Delivery", "Assembly", minutes=60)
    job = cast.make_job()
    add(lead, job)
    job.operations.filter(panel=None).update(finished_at=NOW)
    late = add(lead, job, name="Light 2")
    fresh = job.operations.get(panel=None, finished_at=None)
    assert {o.panel for o in fresh.after.all()} == {late}


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"name": " "}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"width_mm": Decimal(0)}, "width_mm"),
        ({"height_mm": Decimal(20001)}, "height_mm"),
        ({"thickness_mm": Decimal(0)}, "thickness_mm"),
        ({"thickness_mm": Decimal(101)}, "thickness_mm"),
        ({"pieces": 0}, "pieces"),
        ({"pieces": 20001}, "pieces"),
        ({"copies": 0}, "copies"),
        ({"copies": 501}, "copies"),
        ({"minutes": {"cutting": 5_000_001}}, "minutes"),
    ],
)
def test_add_refuses(lead: Account, values: dict, field: str) -> None:
    with pytest.raises(Refused) as refused:
        add(lead, **values)
    assert refused.value.field == field
    assert not Panel.objects.exists()


def test_nothing_is_added_to_a_closed_job(lead: Account) -> None:
    with pytest.raises(Refused, match="reopen it first"):
        add(lead, cast.make_job(stage=Stage.COMPLETE))


def change(panel: Panel, lead: Account, **values: object) -> Panel:
    start = {name: getattr(panel, name) for name in ("name", *act.SIZES, "pieces", "copies")}
    return act.change_panel(panel, **start | values, by=Actor(lead), at=NOW)  # type: ignore[arg-type]


def test_change_of_size_is_written_down(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job())
    change(panel, lead, width_mm=Decimal(622))
    event = Event.objects.get(panel=panel, verb="changed")
    assert (event.before, event.after) == ({"width_mm": "600.00"}, {"width_mm": "622"})
    assert change(panel, lead, width_mm=Decimal(622)).width_mm == 622
    assert Event.objects.count() == 1


def test_change_of_pieces_and_copies_recounts(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job())
    change(panel, lead, pieces=12, copies=2)
    cutting = cast.operation_of(panel, "Cutting")
    assert (cutting.quantity, cutting.estimate) == (24, 90)
    assert cast.operation_of(panel, "Assembly").quantity == 0


def test_change_scales_the_hours_when_asked(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job())
    change(panel, lead, pieces=20, copies=2, scale_hours=True)
    assert cast.operation_of(panel, "Cutting").estimate == 90 * 4
    assert cast.operation_of(panel, "Assembly").estimate == 240 * 2


def test_fewer_pieces_than_are_done_are_refused(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job())
    Operation.objects.filter(pk=cast.operation_of(panel, "Cutting").pk).update(quantity_done=8)
    with pytest.raises(Refused, match="done already at Cutting"):
        change(panel, lead, pieces=7)
    panel.refresh_from_db()
    assert panel.pieces == 10


def test_set_where(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job(stage=Stage.COMPLETE))
    assert act.set_where(panel, " rack 4 ", by=Actor(lead), at=NOW).where == "rack 4"
    act.set_where(panel, "rack 4", by=Actor(lead), at=NOW)
    assert Event.objects.filter(verb="moved").count() == 1
    with pytest.raises(Refused, match="60 letters"):
        act.set_where(panel, "x" * 61, by=Actor(lead), at=NOW)


def test_remove_a_panel_entered_by_mistake(lead: Account) -> None:
    job = cast.make_job()
    act.remove_panel(cast.make_panel(job), by=Actor(lead), at=NOW)
    assert not job.panels.exists()
    assert not job.operations.exists()
    assert Event.objects.filter(job=job, verb="changed").exists()


def test_remove_refuses_what_was_worked_on(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job())
    Operation.objects.filter(pk=cast.operation_of(panel, "Cutting").pk).update(started_at=NOW)
    with pytest.raises(Refused, match="worked on already"):
        act.remove_panel(panel, by=Actor(lead), at=NOW)
    assert panel.job.operations.count() == 3
