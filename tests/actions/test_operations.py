"""Operations: added, skipped, split, put in order, estimated anew, given, put first, sent out."""

from collections.abc import Callable
from graphlib import TopologicalSorter

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.actions import Actor, Refused, turns
from jobs.actions import operations as act
from jobs.models import (
    Account,
    Event,
    Job,
    Operation,
    OperationKind,
    Panel,
    PlanState,
    Stage,
    State,
    TimeEntry,
)
from tests import cast

NOW = cast.at(3)
# The rows are put back after each example, and a busy machine is no fault.
QUIET = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]


@pytest.fixture
def panel(shop: None) -> Panel:
    return cast.make_panel(cast.make_job())


def kind(name: str) -> OperationKind:
    return OperationKind.objects.get(name=name)


def named(panel: Panel, *names: str) -> list[Operation]:
    return [cast.operation_of(panel, name) for name in names]


def after(operation: Operation) -> set[str]:
    return {str(other) for other in operation.after.all()}


def state(operation: Operation) -> str:
    return Operation.objects.with_state(NOW).get(pk=operation.pk).state  # type: ignore[attr-defined]


def add(panel: Panel, lead: Account, name: str = "Blasting", **values: object) -> Operation:
    start = {"estimate": 60, "by": Actor(lead), "at": NOW}
    return act.add_operation(panel.job, panel, kind(name), **start | values)  # type: ignore[arg-type]


def test_add_between(panel: Panel, lead: Account) -> None:
    cutting, beveling = named(panel, "Cutting", "Beveling")
    made = add(panel, lead, after=[cutting], before=[beveling], label=" Etching ")
    assert (str(made), made.estimate, made.quantity, made.place) == ("Etching", 60, 0, 0)
    assert after(beveling) == {"Cutting", "Etching"}
    assert Event.objects.get(verb="added").after["after"] == ["Cutting"]


def test_added_last_work_comes_before_the_delivery(panel: Panel, lead: Account) -> None:
    delivery = Operation.objects.create(job=panel.job, kind=kind("Delivery"), estimate=60)
    delivery.after.set(named(panel, "Assembly"))
    made = add(panel, lead, "Cure", after=named(panel, "Assembly"))
    assert made in delivery.after.all()


def test_work_that_waits_for_measuring_does_not_make_measuring_wait(panel: Panel, lead: Account) -> None:
    survey = Operation.objects.create(job=panel.job, kind=kind("Delivery"), label="Survey", estimate=60)
    cast.operation_of(panel, "Cutting").after.add(survey)
    add(panel, lead, after=named(panel, "Assembly"))
    assert after(survey) == set()


def test_added_work_is_counted_by_its_kind(panel: Panel, lead: Account) -> None:
    assert add(panel, lead, "Cutting").quantity == 10
    assert add(panel, lead, "Cutting", quantity=4).quantity == 4
    assert add(panel, lead, "Assembly", quantity=4).quantity == 0


def test_add_refuses(panel: Panel, lead: Account) -> None:
    other = cast.make_panel(cast.make_job("0413"))
    cutting, beveling = named(panel, "Cutting", "Beveling")
    for values, sentence in [
        ({"estimate": -1}, "more than anybody"),
        ({"estimate": 5_000_001}, "more than anybody"),
        ({"label": "x" * 61}, "60 letters"),
        ({"after": named(other, "Cutting")}, "same job"),
        ({"after": [beveling], "before": [cutting]}, "none of them could ever start"),
    ]:
        with pytest.raises(Refused, match=sentence):
            add(panel, lead, **values)
    with pytest.raises(Refused, match="number of pieces"):
        add(panel, lead, "Cutting", quantity=-1)
    with pytest.raises(Refused, match="another job"):
        act.add_operation(other.job, panel, kind("Blasting"), estimate=1, by=Actor(lead), at=NOW)
    with pytest.raises(Refused, match="comes before has to be work of the same job"):
        add(panel, lead, before=named(other, "Cutting"))
    Operation.objects.filter(pk=cutting.pk).update(started_at=NOW)
    with pytest.raises(Refused, match="Cutting has begun already"):
        add(panel, lead, before=[cutting])
    assert panel.operations.count() == 3


def test_what_follows_a_skipped_operation_waits_for_what_lay_before(panel: Panel, lead: Account) -> None:
    cutting, beveling, assembly = named(panel, "Cutting", "Beveling", "Assembly")
    act.skip_operation(beveling, why="plain glass", by=Actor(lead), at=NOW)
    assert after(assembly) == {"Cutting", "Beveling"}
    assert (state(beveling), state(assembly)) == (State.DONE, State.WAITING)
    Operation.objects.filter(pk=cutting.pk).update(finished_at=NOW)
    assert state(assembly) == State.READY
    with pytest.raises(Refused, match="is skipped"):
        act.skip_operation(beveling, by=Actor(lead), at=NOW)


def test_order_behind_a_skipped_operation_is_bridged(panel: Panel, lead: Account) -> None:
    cutting, beveling, assembly = named(panel, "Cutting", "Beveling", "Assembly")
    assembly.after.clear()
    act.skip_operation(beveling, by=Actor(lead), at=NOW)
    act.set_order(assembly, after=[beveling], by=Actor(lead), at=NOW)
    assert after(assembly) == {"Cutting", "Beveling"}
    assert after(cutting) == set()


def test_work_put_before_a_skipped_operation_holds_up_what_follows(panel: Panel, lead: Account) -> None:
    beveling, assembly = named(panel, "Beveling", "Assembly")
    act.skip_operation(beveling, by=Actor(lead), at=NOW)
    add(panel, lead, before=[beveling])
    assert after(assembly) == {"Cutting", "Beveling", "Blasting"}


def test_installation_waits_for_new_work_though_the_delivery_is_skipped(panel: Panel, lead: Account) -> None:
    delivery = Operation.objects.create(job=panel.job, kind=kind("Delivery"), estimate=60)
    delivery.after.set(named(panel, "Assembly"))
    fitting = Operation.objects.create(job=panel.job, kind=kind("Delivery"), label="Fitting", estimate=60)
    fitting.after.add(delivery)
    act.skip_operation(delivery, by=Actor(lead), at=NOW)
    made = add(panel, lead, "Cure", after=named(panel, "Assembly"))
    assert made in fitting.after.all()


def test_take_up_again(panel: Panel, lead: Account) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    with pytest.raises(Refused, match="not skipped"):
        act.unskip_operation(beveling, by=Actor(lead), at=NOW)
    act.skip_operation(beveling, by=Actor(lead), at=NOW)
    act.unskip_operation(beveling, by=Actor(lead), at=NOW)
    assert state(beveling) == State.WAITING


def test_skip_begins_the_cure_behind_it(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Assembly", "Cure"))
    cutting, assembly, cure = named(panel, "Cutting", "Assembly", "Cure")
    Operation.objects.filter(pk=cutting.pk).update(finished_at=cast.at(2))
    act.skip_operation(assembly, by=Actor(lead), at=NOW)
    cure.refresh_from_db()
    assert cure.started_at == cast.at(2)


def test_skip_refuses_what_somebody_has(panel: Panel, lead: Account) -> None:
    cutting = cast.operation_of(panel, "Cutting")
    Operation.objects.filter(pk=cutting.pk).update(keeper=cast.person("Mara"))
    with pytest.raises(Refused, match="Mara Lind has it on the bench"):
        act.skip_operation(cutting, by=Actor(lead), at=NOW)
    TimeEntry.objects.create(person=cast.person("Mara"), operation=cutting, started_at=cast.at(2))
    with pytest.raises(Refused, match="Mara Lind is at it now"):
        act.skip_operation(cutting, by=Actor(lead), at=NOW)


def test_split_shares_pieces_and_minutes(panel: Panel, lead: Account) -> None:
    cutting, beveling = named(panel, "Cutting", "Beveling")
    part = act.split_operation(beveling, pieces=4, by=Actor(lead), at=NOW)
    beveling.refresh_from_db()
    assert (beveling.quantity, beveling.estimate) == (6, 270)
    assert (str(part), part.quantity, part.estimate, part.place) == ("Beveling, part 2", 4, 180, 1)
    assert (after(part), after(cast.operation_of(panel, "Assembly"))) == (
        {"Cutting"},
        {"Beveling", str(part)},
    )
    third = act.split_operation(part, pieces=1, minutes=20, by=Actor(lead), at=NOW)
    assert (str(third), third.estimate) == ("Beveling, part 3", 20)
    assert Event.objects.filter(verb="split").count() == 2
    assert after(cutting) == set()


def test_split_of_what_is_not_counted(panel: Panel, lead: Account) -> None:
    part = act.split_operation(cast.operation_of(panel, "Assembly"), by=Actor(lead), at=NOW)
    assert (part.estimate, part.quantity) == (120, 0)


@pytest.mark.parametrize(
    ("name", "values", "sentence"),
    [
        ("Beveling", {"pieces": 0}, "between 1 and 9 pieces"),
        ("Beveling", {"pieces": 10}, "between 1 and 9 pieces"),
        ("Beveling", {"pieces": -1}, "between 1 and 9 pieces"),
        ("Beveling", {"pieces": 2, "minutes": 451}, "more than the whole"),
        ("Assembly", {"pieces": 2}, "not counted"),
    ],
)
def test_split_refuses(panel: Panel, lead: Account, name: str, values: dict, sentence: str) -> None:
    with pytest.raises(Refused, match=sentence):
        act.split_operation(cast.operation_of(panel, name), **values, by=Actor(lead), at=NOW)


def test_split_leaves_what_is_done_with_the_first_part(panel: Panel, lead: Account) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    Operation.objects.filter(pk=beveling.pk).update(quantity_done=9)
    with pytest.raises(Refused, match="between 1 and 1 pieces"):
        act.split_operation(beveling, pieces=2, by=Actor(lead), at=NOW)
    assert act.split_operation(beveling, pieces=1, by=Actor(lead), at=NOW).quantity == 1
    with pytest.raises(Refused, match="No pieces are left"):
        act.split_operation(beveling, pieces=1, by=Actor(lead), at=NOW)


def test_split_refuses_a_cure_and_what_is_out(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cure", "Lamination"))
    with pytest.raises(Refused, match="cures by itself"):
        act.split_operation(cast.operation_of(panel, "Cure"), by=Actor(lead), at=NOW)
    lamination = cast.operation_of(panel, "Lamination")
    Operation.objects.filter(pk=lamination.pk).update(started_at=NOW)
    with pytest.raises(Refused, match="out already"):
        act.split_operation(lamination, by=Actor(lead), at=NOW)


def test_order_names_the_circle(panel: Panel, lead: Account) -> None:
    cutting, assembly = named(panel, "Cutting", "Assembly")
    with pytest.raises(Refused) as refused:
        act.set_order(cutting, after=[assembly], by=Actor(lead), at=NOW)
    assert refused.value.sentence == (
        "Cutting would wait for Assembly, which waits for Beveling, which waits for Cutting: "
        "none of them could ever start."
    )
    assert after(cutting) == set()


def test_order_and_place(panel: Panel, lead: Account) -> None:
    cutting, beveling, assembly = named(panel, "Cutting", "Beveling", "Assembly")
    act.set_order(assembly, after=[cutting], place=2, by=Actor(lead), at=NOW)
    assert after(assembly) == {"Cutting"}
    assert [str(o) for o in panel.operations.order_by("place")] == ["Cutting", "Assembly", "Beveling"]
    event = Event.objects.get(verb="put in order")
    assert (event.before["after"], event.after["after"]) == (["Beveling"], ["Cutting"])
    for place in (0, 4):
        with pytest.raises(Refused, match="between 1 and 3"):
            act.set_order(beveling, after=[], place=place, by=Actor(lead), at=NOW)


def test_estimate_needs_a_reason_and_keeps_it(panel: Panel, lead: Account) -> None:
    cutting = cast.operation_of(panel, "Cutting")
    act.change_estimate(cutting, 120, why=" thicker glass ", by=Actor(lead), at=NOW)
    event = Event.objects.get(verb="estimated anew")
    assert (event.before, event.after, event.why) == ({"minutes": 90}, {"minutes": 120}, "thicker glass")
    for minutes, why in [(0, "x"), (-1, "x"), (5_000_001, "x"), (60, " "), (60, "x" * 201)]:
        with pytest.raises(Refused):
            act.change_estimate(cutting, minutes, why=why, by=Actor(lead), at=NOW)
    cutting.refresh_from_db()
    assert cutting.estimate == 120


EVERY: list[Callable[[Operation, Actor], object]] = [
    lambda o, by: act.skip_operation(o, by=by, at=NOW),
    lambda o, by: act.split_operation(o, pieces=1, by=by, at=NOW),
    lambda o, by: act.set_order(o, after=[], by=by, at=NOW),
    lambda o, by: act.change_estimate(o, 5, why="x", by=by, at=NOW),
    lambda o, by: turns.pin_person(o, None, by=by, at=NOW),
    lambda o, by: turns.put_first(o, by=by, at=NOW),
    lambda o, by: turns.unpin(o, by=by, at=NOW),
    lambda o, by: turns.allow_early(o, why="x", by=by, at=NOW),
    lambda o, by: turns.make_wait(o, by=by, at=NOW),
]


@pytest.mark.parametrize("verb", EVERY)
def test_nothing_is_changed_once_finished_or_closed(
    panel: Panel, lead: Account, verb: Callable[[Operation, Actor], object]
) -> None:
    cutting = cast.operation_of(panel, "Cutting")
    Operation.objects.filter(pk=cutting.pk).update(finished_at=NOW)
    with pytest.raises(Refused, match="finished already"):
        verb(cutting, Actor(lead))
    Operation.objects.filter(pk=cutting.pk).update(finished_at=None)
    Job.objects.filter(pk=panel.job_id).update(stage=Stage.CANCELLED)
    with pytest.raises(Refused, match="reopen it first"):
        verb(cutting, Actor(lead))


def test_every_change_marks_the_plan_out_of_date(panel: Panel, lead: Account) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    for verb in (EVERY[1], EVERY[2], EVERY[3], EVERY[4], EVERY[5], EVERY[6], EVERY[7], EVERY[8], EVERY[0]):
        before = PlanState.current().revision
        verb(beveling, Actor(lead))
        assert PlanState.current().revision > before


steps = st.lists(
    st.tuples(
        st.sampled_from(["add", "split", "skip", "unskip", "order"]), st.integers(0, 30), st.integers(0, 30)
    ),
    max_size=12,
)


def _apply(panel: Panel, verb: str, first: int, second: int, by: Actor) -> int:
    """One change of the panel's work; gives the minutes it added. What is refused changes nothing."""
    rows = list(panel.operations.order_by("pk"))
    one, other = rows[first % len(rows)], rows[second % len(rows)]
    try:
        match verb:
            case "add":
                act.add_operation(
                    panel.job, panel, kind("Blasting"), estimate=7, after=[one], before=[other], by=by, at=NOW
                )
                return 7
            case "split":
                act.split_operation(one, pieces=second % 6 if one.quantity else 0, by=by, at=NOW)
            case "skip":
                act.skip_operation(one, by=by, at=NOW)
            case "unskip":
                act.unskip_operation(one, by=by, at=NOW)
            case "order":
                act.set_order(one, after=[other, rows[(first + second) % len(rows)]], by=by, at=NOW)
    except Refused:
        pass
    return 0


@settings(max_examples=40, deadline=None, suppress_health_check=QUIET)
@given(steps=steps)
def test_no_change_makes_a_circle_or_loses_work(panel: Panel, lead: Account, steps: list) -> None:
    with transaction.atomic():
        minutes = 90 + 450 + 240
        for verb, first, second in steps:
            minutes += _apply(panel, verb, first, second, Actor(lead))
        rows = list(panel.operations.prefetch_related("after"))
        # graphlib of the standard library raises CycleError at a circle.
        TopologicalSorter({row.pk: {o.pk for o in row.after.all()} for row in rows}).prepare()
        assert sum(row.estimate for row in rows) == minutes
        for name in ("Cutting", "Beveling"):
            assert sum(row.quantity for row in rows if row.kind.name == name) == 10
        _assert_skipped_is_bridged(rows)
        transaction.set_rollback(True)


def _assert_skipped_is_bridged(rows: list[Operation]) -> None:
    """Whoever comes after something skipped comes after what lies before that as well."""
    after = {row.pk: {other.pk for other in row.after.all()} for row in rows}
    skipped = {row.pk for row in rows if row.skipped}
    for pk in after:
        for other in after[pk] & skipped:
            assert after[other] <= after[pk]
