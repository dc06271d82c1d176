"""Broken pieces make their rework, ahead of what needs them, and never a circle."""

from uuid import uuid4

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from jobs.actions import Actor, Refused
from jobs.actions.bench import finish, start
from jobs.actions.breakages import break_pieces
from jobs.models import (
    Breakage,
    Event,
    Job,
    Operation,
    OperationKind,
    Panel,
    Person,
    PlanState,
    Stage,
    State,
    TimeEntry,
)
from tests import cast
from tests.cast import at

shop = pytest.mark.usefixtures("shop")


@pytest.fixture
def mara() -> Person:
    return cast.person("Mara")


@pytest.fixture
def panel() -> Panel:
    return cast.make_panel(cast.make_job())


def smash(operation: Operation, pieces: int = 2, **values: object) -> Breakage:
    mara = cast.person("Mara")
    return break_pieces(operation, pieces, person=mara, by=Actor(person=mara), at=at(3, "10:00"), **values)


def done(*operations: Operation) -> None:
    for operation in operations:
        operation.refresh_from_db()
        Operation.objects.filter(pk=operation.pk).update(
            started_at=at(2), finished_at=at(2, "12:00"), quantity_done=operation.quantity
        )


def rework(breakage: Breakage) -> list[tuple[str, int, int]]:
    return [(str(row), row.estimate, row.quantity) for row in breakage.rework.order_by("place", "pk")]


def before(operation: Operation) -> set[str]:
    return {str(row) for row in operation.after.all()}


def state_of(operation: Operation) -> str:
    return Operation.objects.with_state(at(3, "10:00")).get(pk=operation.pk).state


@shop
def test_pieces_that_break_at_the_wheel_are_cut_and_beveled_again(panel: Panel, mara: Person) -> None:
    cutting, beveling, assembly = (
        cast.operation_of(panel, kind) for kind in ("Cutting", "Beveling", "Assembly")
    )
    done(cutting)
    entry = start(beveling, mara, by=Actor(person=mara), at=at(3, "08:00"))
    revision = PlanState.current().revision
    breakage = smash(beveling, 2, note="cork wheel")
    # A tenth of 90 minutes of cutting and of 450 of beveling a piece.
    assert rework(breakage) == [("Cutting again, 2 pieces", 18, 2), ("Beveling again, 2 pieces", 90, 2)]
    cut, bevel = breakage.rework.order_by("place")
    assert (before(cut), before(bevel)) == (set(), {"Cutting again, 2 pieces"})
    assert before(assembly) == {"Beveling", "Cutting again, 2 pieces", "Beveling again, 2 pieces"}
    beveling.refresh_from_db()
    assert (beveling.quantity, beveling.estimate, beveling.keeper) == (8, 450, mara)
    assert before(beveling) == {"Cutting"}
    assert entry in TimeEntry.objects.running()  # The others go on meanwhile.
    assert (state_of(cut), state_of(bevel), state_of(assembly)) == (State.READY, State.WAITING, State.WAITING)
    assert PlanState.current().revision == revision + 1
    event = Event.objects.get(verb="broke")
    assert (event.why, event.person, event.after["pieces"]) == ("cork wheel", mara, 2)
    assert (breakage.person, breakage.note, breakage.operation) == (mara, "cork wheel", beveling)


@shop
def test_an_assembly_that_was_begun_waits_for_the_rework(panel: Panel) -> None:
    cutting, beveling, assembly = (
        cast.operation_of(panel, kind) for kind in ("Cutting", "Beveling", "Assembly")
    )
    done(cutting, beveling)
    jonas = cast.person("Jonas")
    start(assembly, jonas, by=Actor(person=jonas), at=at(3, "08:00"))
    breakage = smash(assembly, 1)
    assert rework(breakage) == [("Cutting again, 1 piece", 9, 1), ("Beveling again, 1 piece", 45, 1)]
    assembly.refresh_from_db()
    assert (assembly.keeper, state_of(assembly)) == (None, State.WAITING)
    assert not TimeEntry.objects.running().exists()
    with pytest.raises(Refused, match="before Cutting again, 1 piece and Beveling again, 1 piece are"):
        start(assembly, jonas, by=Actor(person=jonas), at=at(3, "10:05"))
    places = list(Operation.objects.order_by("place", "pk").values_list("kind__name", flat=True))
    assert places == ["Cutting", "Beveling", "Cutting", "Beveling", "Assembly"]
    done(*breakage.rework.all())
    assert start(assembly, jonas, by=Actor(person=jonas), at=at(3, "11:00")).is_running


@shop
def test_pieces_done_already_stay_counted(panel: Panel) -> None:
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    done(cutting)
    Operation.objects.filter(pk=beveling.pk).update(started_at=at(3), quantity_done=9)
    smash(beveling, 3)
    beveling.refresh_from_db()
    assert (beveling.quantity, beveling.quantity_done) == (9, 9)


@shop
def test_pieces_that_break_while_they_are_cut(panel: Panel) -> None:
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    breakage = smash(cutting, 3)  # Nobody had tapped Start.
    assert rework(breakage) == [("Cutting again, 3 pieces", 27, 3)]
    cutting.refresh_from_db()
    assert cutting.quantity == 7
    # The beveling is of all ten pieces, so it waits for the three as well.
    assert before(beveling) == {"Cutting", "Cutting again, 3 pieces"}


@shop
def test_what_had_not_begun_is_not_repeated(panel: Panel) -> None:
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    done(cutting)
    breakage = smash(beveling, 2)  # On the way to the wheel.
    assert rework(breakage) == [("Cutting again, 2 pieces", 18, 2)]
    beveling.refresh_from_db()
    assert beveling.quantity == 10
    assert before(beveling) == {"Cutting", "Cutting again, 2 pieces"}


@shop
def test_a_panel_without_beveling(mara: Person) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Assembly"))
    done(cast.operation_of(panel, "Cutting"))
    assert rework(smash(cast.operation_of(panel, "Assembly"), 1)) == [("Cutting again, 1 piece", 9, 1)]


@shop
def test_a_carved_panel_is_cut_and_blasted_again() -> None:
    OperationKind.objects.filter(name="Blasting").update(again_after_breakage=True)
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Blasting", "Cure", "Assembly"), pieces=1)
    cutting, blasting = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Blasting")
    done(cutting, blasting)
    breakage = smash(cast.operation_of(panel, "Assembly"), 1)
    # Blasting is not counted by the piece: the whole of it for the panel's one piece.
    assert rework(breakage) == [("Cutting again, 1 piece", 90, 1), ("Blasting again, 1 piece", 240, 0)]


@shop
def test_copies_share_an_estimate_and_few_minutes_are_five(mara: Person) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Assembly"), pieces=5, copies=40)
    done(cast.operation_of(panel, "Cutting"))
    assembly = cast.operation_of(panel, "Assembly")
    assert rework(smash(assembly, 1)) == [("Cutting again, 1 piece", 5, 1)]
    assert rework(smash(assembly, 200)) == [("Cutting again, 200 pieces", 90, 200)]
    with pytest.raises(Refused, match="only 200 pieces"):
        smash(assembly, 201)


@shop
def test_what_broke_again_is_made_again_once(panel: Panel) -> None:
    cutting, beveling, assembly = (
        cast.operation_of(panel, kind) for kind in ("Cutting", "Beveling", "Assembly")
    )
    done(cutting, beveling)
    first = smash(assembly, 2)
    done(*first.rework.all())
    bevel_again = first.rework.get(kind__name="Beveling")
    Operation.objects.filter(pk=bevel_again.pk).update(finished_at=None, quantity_done=0)
    second = smash(bevel_again, 1)
    assert rework(second) == [("Cutting again, 1 piece", 9, 1), ("Beveling again, 1 piece", 45, 1)]
    bevel_again.refresh_from_db()
    assert bevel_again.quantity == 1
    third = smash(assembly, 2)
    # Measured by the work itself, not by what repeated it.
    assert rework(third) == [("Cutting again, 2 pieces", 18, 2), ("Beveling again, 2 pieces", 90, 2)]


@shop
def test_two_branches_of_one_kind_are_repeated_as_one() -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Assembly"))
    border = cast.operation_of(panel, "Cutting")
    assembly = cast.operation_of(panel, "Assembly")
    center = Operation.objects.create(
        job=panel.job, panel=panel, kind=border.kind, label="Cutting the center", estimate=110, quantity=10
    )
    assembly.after.add(center)
    done(border, center)
    assert rework(smash(assembly, 4)) == [("Cutting again, 4 pieces", 40, 4)]


@shop
def test_a_skipped_operation_still_links_what_is_before_and_after_it(panel: Panel) -> None:
    done(cast.operation_of(panel, "Cutting"))
    Operation.objects.filter(panel=panel, kind__name="Beveling").update(skipped=True)
    assert rework(smash(cast.operation_of(panel, "Assembly"), 1)) == [("Cutting again, 1 piece", 9, 1)]


@shop
def test_what_breaks_after_all_is_finished_is_made_again(panel: Panel, mara: Person) -> None:
    operations = [cast.operation_of(panel, kind) for kind in ("Cutting", "Beveling", "Assembly")]
    done(*operations)
    breakage = smash(operations[2], 1)
    assert [row.then.exclude(breakage=breakage).count() for row in breakage.rework.all()] == [0, 0]
    finish(breakage.rework.get(kind__name="Cutting"), mara, by=Actor(person=mara), at=at(3, "11:00"))


@shop
def test_the_same_breakage_sent_twice_is_one(panel: Panel) -> None:
    cutting, tap = cast.operation_of(panel, "Cutting"), uuid4()
    assert smash(cutting, 1, client_id=tap) == smash(cutting, 1, client_id=tap)
    assert (Breakage.objects.count(), Operation.objects.filter(breakage__isnull=False).count()) == (1, 1)


@shop
def test_a_breakage_is_refused(panel: Panel) -> None:
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    with pytest.raises(Refused, match="how many pieces"):
        smash(cutting, 0)
    with pytest.raises(Refused, match="only 10 pieces"):
        smash(beveling, 11)
    with pytest.raises(Refused, match="Nothing has been done"):
        smash(cast.operation_of(panel, "Assembly"), 1)
    whole = Operation.objects.create(
        job=panel.job, kind=OperationKind.objects.get(name="Delivery"), estimate=60
    )
    with pytest.raises(Refused, match="whole job"):
        smash(whole, 1)
    Job.objects.update(stage=Stage.CANCELLED)
    with pytest.raises(Refused, match="cancelled"):
        smash(cutting, 1)
    assert not Breakage.objects.exists()


class AnyRoute(TestCase):
    """Whatever a panel's route looks like and whatever breaks when, no operation comes to wait for itself."""

    def setUp(self) -> None:
        cast.make_studio()
        cast.make_shop()

    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(
        kinds=st.lists(
            st.sampled_from(["Cutting", "Beveling", "Assembly", "Blasting", "Cure"]), min_size=1, max_size=7
        ),
        edges=st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=12),
        skipped=st.sets(st.integers(0, 6), max_size=2),
        progress=st.lists(st.sampled_from(["done", "begun", "new"]), min_size=7, max_size=7),
        breaks=st.lists(st.tuples(st.integers(0, 30), st.integers(1, 10)), min_size=1, max_size=4),
    )
    def test_no_circle_arises(
        self,
        kinds: list[str],
        edges: list[tuple[int, int]],
        skipped: set[int],
        progress: list[str],
        breaks: list[tuple[int, int]],
    ) -> None:
        job = cast.make_job(number=str(Job.objects.count()))
        panel = cast.make_panel(job, kinds=tuple(kinds))
        rows = list(panel.operations.order_by("place"))
        for low, high in edges:
            if low < high < len(rows):
                rows[high].after.add(rows[low])
        for number, row in enumerate(rows):
            row.skipped = number in skipped
            row.started_at = None if progress[number] == "new" else at(2)
            row.finished_at = at(2, "12:00") if progress[number] == "done" else None
            row.save()
        for which, pieces in breaks:
            operations = list(panel.operations.filter(skipped=False).order_by("pk"))
            if not operations:
                return
            operation = operations[which % len(operations)]
            links = set(Operation.after.through.objects.filter(from_operation__panel=panel).values_list())
            try:
                breakage = smash(operation, pieces)
            except Refused:
                continue
            self._check(panel, breakage, links)

    def _check(self, panel: Panel, breakage: Breakage, links: set[tuple[int, ...]]) -> None:
        through = Operation.after.through.objects.filter(from_operation__panel=panel)
        assert links <= set(through.values_list())
        open_ = {row.pk: set(row.after.values_list("pk", flat=True)) for row in panel.operations.all()}
        while open_:
            free = {pk for pk, after in open_.items() if not after & open_.keys()}
            assert free, "a circle"
            for pk in free:
                del open_[pk]
        again = set(breakage.rework.values_list("kind_id", flat=True))
        broken = breakage.operation
        broken.refresh_from_db()
        assert broken.quantity_done <= broken.quantity
        if broken.finished_at is None and broken.kind_id not in again:
            assert set(breakage.rework.all()) <= set(broken.after.all())
