"""Routes: no step waits for itself in the end, and saving replaces the steps."""

from decimal import Decimal
from graphlib import CycleError, TopologicalSorter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.actions import Actor, Refused
from jobs.actions.routes import StepDraft, check_no_cycle, find_cycle, save_route
from jobs.models import Account, Event, OperationKind, PlanState, Route
from tests import cast


def kind(name: str) -> OperationKind:
    return OperationKind.objects.get(name=name)


def test_a_chain_and_a_diamond_are_no_cycle() -> None:
    check_no_cycle({1: [], 2: [1], 3: [1], 4: [2, 3]})
    check_no_cycle({})


def test_a_step_cannot_wait_for_itself() -> None:
    with pytest.raises(Refused, match=r"Step 2 cannot wait for itself\."):
        check_no_cycle({7: [], 8: [8]})


def test_a_circle_is_named() -> None:
    names = {1: "cutting", 2: "beveling", 3: "assembly"}
    with pytest.raises(Refused) as refused:
        check_no_cycle({1: [3], 2: [1], 3: [2]}, names.__getitem__)
    assert refused.value.sentence == (
        "Cutting would wait for assembly, which waits for beveling, which waits for cutting: "
        "none of them could ever start."
    )
    assert refused.value.field == "after"


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(st.integers(0, 9), st.lists(st.integers(0, 9), max_size=4), max_size=10))
def test_agrees_with_the_standard_library(steps: dict[int, list[int]]) -> None:
    # graphlib.TopologicalSorter of Python's standard library, as the independent judge.
    try:
        TopologicalSorter(steps).prepare()
        cyclic = False
    except CycleError:
        cyclic = True
    circle = find_cycle(steps)
    assert bool(circle) == cyclic
    for step, before in zip(circle, [*circle[1:], *circle[:1]], strict=True):
        assert before in steps[step]


def test_save_makes_the_steps_and_writes_it_down(lead: Account) -> None:
    revision = PlanState.current().revision
    steps = [
        StepDraft(kind("Cutting"), minutes=30, piece_minutes=Decimal("4.5")),
        StepDraft(kind("Blasting"), after=(0,), condition="carved"),
        StepDraft(kind("Assembly"), after=(0, 1), label="Leading up"),
    ]
    route = save_route(None, name=" Carved panel ", steps=steps, by=Actor(lead), at=cast.at(2))
    assert [str(step) for step in route.steps.all()] == ["Cutting", "Blasting", "Leading up"]
    assert route.name == "Carved panel"
    assert {str(step) for step in route.steps.get(label="Leading up").after.all()} == {"Cutting", "Blasting"}
    assert Event.objects.get(subject="route", verb="made").after["steps"][1] == "Blasting after Cutting"
    assert PlanState.current().revision > revision


def test_save_replaces_the_steps(lead: Account) -> None:
    route = Route.objects.get(name="Beveled window")
    save_route(route, name=route.name, steps=[StepDraft(kind("Assembly"))], by=Actor(lead), at=cast.at(2))
    assert [str(step) for step in route.steps.all()] == ["Assembly"]
    assert len(Event.objects.get(subject="route", verb="changed").before["steps"]) == 3


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"name": " "}, "needs a name"),
        ({"name": "x" * 61}, "needs a name"),
        ({"name": "beveled WINDOW"}, "a route called beveled WINDOW already"),
        ({"steps": []}, "at least one step"),
        ({"steps": [("Cutting", {})] * 101}, "at most 100 steps"),
        ({"steps": [("Cutting", {"after": (4,)})]}, "Cutting waits for a step that is not there"),
        ({"steps": [("Cutting", {"after": (-1,)})]}, "Cutting waits for a step that is not there"),
        ({"steps": [("Cutting", {"after": (0,)})]}, "Cutting cannot wait for itself"),
        ({"steps": [("Cutting", {"after": (1,)}), ("Assembly", {"after": (0,)})]}, "none of them could ever"),
        ({"steps": [("Cutting", {"minutes": -1})]}, "less than no time"),
        ({"steps": [("Cutting", {"piece_minutes": Decimal(-1)})]}, "less than no time"),
    ],
)
def test_save_refuses(lead: Account, values: dict, sentence: str) -> None:
    chosen = {"name": "New", "steps": [("Cutting", {})]} | values
    chosen["steps"] = [StepDraft(kind(name), **rest) for name, rest in chosen["steps"]]
    with pytest.raises(Refused, match=sentence):
        save_route(None, **chosen, by=Actor(lead), at=cast.at(2))
    assert Route.objects.count() == 1
    assert not Event.objects.exists()
