"""Rates: learned, accepted, left, and set by hand."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from jobs import models
from jobs.actions import Actor, Refused
from jobs.actions.learning import ENOUGH, Lesson, read_lessons
from jobs.actions.rates import accept_rates, leave_rates, left_proposals, set_rate, set_setup
from jobs.estimating.takeoff import Takeoff
from jobs.models import Account, Event, KindSetup, Operation, OperationKind, Panel, Rate, TimeEntry
from jobs.snapshot.footing import FINISHED
from jobs.snapshot.rates import read_rates, read_spreads
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = cast.at(27)
TODAY = date(2026, 3, 27)


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


def kind(name: str = "Cutting") -> OperationKind:
    return OperationKind.objects.get(name=name)


def finish(operation: Operation, minutes: int, who: str = "Jonas") -> None:
    """Somebody worked so long on it, and it is finished."""
    start = cast.at(2)
    stop = start + timedelta(minutes=minutes)
    TimeEntry.objects.create(
        person=cast.person(who), operation=operation, started_at=start, stopped_at=stop, minutes=minutes
    )
    Operation.objects.filter(pk=operation.pk).update(started_at=start, finished_at=stop)


def cut(number: int, pieces: int, minutes: int, *, taken_off: bool = True, **values: Any) -> Panel:
    panel = cast.make_panel(cast.make_job(f"{number:04}"), kinds=("Cutting",), pieces=pieces, **values)
    if taken_off:
        numbers = Takeoff(width_mm=600.0, height_mm=900.0, pieces=pieces).to_json()
        models.Takeoff.objects.create(panel=panel, version=1, numbers=numbers, source="hand", at=cast.at(2))
    finish(cast.operation_of(panel, "Cutting"), minutes)
    return panel


def history(panels: int = 12, *, taken_off: bool = True) -> None:
    """Cutting that takes 45 minutes and 10 a piece, where 45 and 6.3 are expected."""
    for number in range(panels):
        pieces = 10 + 5 * (number % 8)
        cut(500 + number, pieces, 45 + 10 * pieces, taken_off=taken_off)


def lesson(name: str = "Cutting") -> Lesson:
    return read_lessons(TODAY, NOW, kind(name))[0]


def proposals(name: str = "Cutting") -> dict[str, Any]:
    learned = lesson(name).learned
    assert learned is not None
    return {each.driver: each for each in learned.proposals}


def seen(*drivers: str) -> dict[str, Decimal]:
    found = proposals()
    return {driver: Decimal(f"{found[driver].learned:.6f}") for driver in drivers}


def test_a_rate_is_learned_from_takeoffs_and_hours() -> None:
    history()
    piece = proposals()["piece"]
    assert piece.now == 6.3
    assert piece.learned == pytest.approx(10, rel=0.05)
    assert piece.low < piece.learned < piece.high
    assert piece.panels == 12
    points = lesson().points
    assert len(points) == 12
    assert (points[0].actual, points[0].estimated, points[0].at_the_time) == (145, 108, 90)


def test_hours_count_at_pace_one() -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Beveling",), pieces=10)
    numbers = Takeoff(width_mm=600.0, height_mm=900.0, pieces=10, beveled_mm={(6.35, 25.0): 9000.0})
    models.Takeoff.objects.create(
        panel=panel, version=1, numbers=numbers.to_json(), source="hand", at=cast.at(2)
    )
    finish(cast.operation_of(panel, "Beveling"), 600, who="Ilse")  # At a pace of 0.8.
    assert [point.actual for point in lesson("Beveling").points] == [480]


def test_only_work_that_is_finished_with_hours_counts() -> None:
    cut(1, 10, 100)
    cast.make_panel(cast.make_job("0002"), kinds=("Cutting",))  # Not begun.
    without = cut(3, 10, 100)
    TimeEntry.objects.filter(operation__panel=without).update(voided_at=cast.at(3))
    skipped = cut(4, 10, 100)
    Operation.objects.filter(panel=skipped).update(skipped=True)
    later = cut(5, 10, 100)
    Operation.objects.filter(panel=later).update(finished_at=NOW + timedelta(hours=1))
    assert [point.job.number for point in lesson().points] == ["0001"]


def test_parts_count_together_once_all_are_finished() -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Cutting"))
    first, second = panel.operations.order_by("pk")
    finish(first, 60)
    assert lesson().points == []
    finish(second, 40)
    assert [point.actual for point in lesson().points] == [100]


def test_what_was_done_again_does_not_count() -> None:
    panel = cut(1, 10, 100)
    cutting = cast.operation_of(panel, "Cutting")
    broke = models.Breakage.objects.create(operation=cutting, pieces=1, at=cast.at(2))
    again = Operation.objects.create(
        job=panel.job, panel=panel, kind=cutting.kind, estimate=9, breakage=broke
    )
    finish(again, 30)
    assert [point.actual for point in lesson().points] == [100]


def test_copies_count_as_often_as_there_are() -> None:
    cut(1, 10, 700, copies=4)
    assert lesson().points[0].drivers["piece"] == 40


def test_where_nobody_took_off_a_takeoff_is_proposed_and_rates_move_as_one() -> None:
    history(taken_off=False)
    found = lesson()
    assert (found.measured, len(found.points), found.by_driver) == (0, 12, False)
    learned = proposals()
    factor = learned["piece"].learned / 6.3
    assert factor == pytest.approx(10 / 6.3, rel=0.1)
    assert learned["hard_piece"].learned == pytest.approx(6 * factor)


def test_once_enough_are_taken_off_they_alone_count() -> None:
    history(ENOUGH)
    for number in range(5):
        cut(900 + number, 10, 1000, taken_off=False)
    found = lesson()
    assert (len(found.points), found.by_driver) == (ENOUGH, True)
    cut(990, 10, 1000, taken_off=False)
    Operation.objects.filter(job__number="0500").update(skipped=True)
    found = lesson()
    assert (len(found.points), found.by_driver) == (ENOUGH + 5, False)


def test_carving_that_nobody_took_off_teaches_nothing() -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Blasting",))
    finish(cast.operation_of(panel, "Blasting"), 400)
    assert lesson("Blasting").points == []


def test_work_for_the_whole_job_is_learned_by_job() -> None:
    job = cut(1, 10, 100).job
    delivery = Operation.objects.create(job=job, kind=kind("Delivery"), estimate=60)
    finish(delivery, 300)
    point = lesson("Delivery").points[0]
    assert (point.panel, point.job, point.actual) == (None, job, 300)


def test_an_odd_entry_hardly_counts() -> None:
    history(24)
    cut(800, 20, 2450)  # A timer that was left on, ten times too long.
    points = lesson().points
    assert [point.job.number for point in points if point.odd] == ["0800"]
    assert proposals()["piece"].learned == pytest.approx(10, rel=0.06)


def test_the_spread_is_the_one_that_dates_are_drawn_from() -> None:
    history()
    assert lesson().known == read_spreads(NOW)[kind().pk]
    assert lesson().history == 12


def test_the_number_of_queries_does_not_grow(django_assert_num_queries: Any) -> None:
    cut(1, 10, 100)
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as few:
        read_lessons(TODAY, NOW)
    history(30)
    with django_assert_num_queries(len(few)):
        read_lessons(TODAY, NOW)


def test_the_lead_accepts_what_was_learned(by: Actor, lead: Account) -> None:
    history()
    learned = proposals()["piece"].learned
    accept_rates(kind(), seen("piece"), by=by, at=NOW)
    row = Rate.objects.get()
    assert (row.kind.name, row.step, row.driver, row.since) == ("Cutting", "", "piece", TODAY)
    assert float(row.minutes) == pytest.approx(learned, abs=1e-4)
    assert (row.accepted_by, row.note) == (lead, "learned from 12 finished")
    rates = read_rates(TODAY)["cutting"]
    assert rates.rates["piece"] == pytest.approx(learned, abs=1e-4)
    assert rates.rates["curved_edge"] == 1.5
    assert read_rates(date(2026, 3, 26))["cutting"].rates["piece"] == 6.3  # As it was the day before.
    event = Event.objects.get(verb="accepted the learned rates of")
    assert event.before == {"piece": 6.3, FINISHED: 2367.0}  # 12 set-ups of 45, 290 pieces.
    assert event.after[FINISHED] == pytest.approx(540 + 290 * learned, abs=0.1)


def test_the_set_up_is_accepted_as_well(by: Actor) -> None:
    history()
    KindSetup.objects.create(kind=kind(), minutes=45, slope=Decimal("0.9"), since=date(2026, 1, 1))
    accept_rates(kind(), seen(""), by=by, at=NOW)
    row = KindSetup.objects.get(since=TODAY)
    assert row.slope == Decimal("0.9")  # What nobody asked about stays.
    assert not Rate.objects.exists()


def test_the_steps_keep_their_shares(by: Actor) -> None:
    Rate.objects.create(kind=kind(), step="", driver="piece", minutes=4, since=date(2026, 1, 1))
    Rate.objects.create(kind=kind(), step="score", driver="piece", minutes=2, since=date(2026, 1, 1))
    history()
    accept_rates(kind(), seen("piece"), by=by, at=NOW)
    steps = dict(Rate.objects.filter(since=TODAY).values_list("step", "minutes"))
    assert float(steps[""]) == pytest.approx(2 * float(steps["score"]), abs=1e-3)


def test_of_one_day_the_last_word_counts(by: Actor) -> None:
    history()
    set_rate(kind(), step="", driver="piece", minutes=Decimal(7), by=by, at=NOW)
    accept_rates(kind(), seen("piece"), by=by, at=NOW)
    assert Rate.objects.count() == 1
    assert Rate.objects.get().minutes > 8


Do = Callable[..., Any]
both = pytest.mark.parametrize("do", [accept_rates, leave_rates], ids=["accept", "leave"])


@both
def test_what_has_moved_meanwhile_is_refused(by: Actor, do: Do) -> None:
    history()
    before = seen("piece")
    for number in range(10):
        cut(700 + number, 20, 445)
    with pytest.raises(Refused, match="More has been learned meanwhile"):
        do(kind(), before, by=by, at=NOW)
    assert not Rate.objects.exists()


@both
def test_nothing_chosen_is_refused(by: Actor, do: Do) -> None:
    history()
    with pytest.raises(Refused, match="Choose at least one rate"):
        do(kind(), {}, by=by, at=NOW)


@both
def test_a_rate_that_is_not_there_is_refused(by: Actor, do: Do) -> None:
    history()
    with pytest.raises(Refused, match="not there any more"):
        do(kind(), {"glass_m2": Decimal(1)}, by=by, at=NOW)


@both
def test_only_the_lead_decides(office: Account, do: Do) -> None:
    history()
    with pytest.raises(Refused, match="Only the lead"):
        do(kind(), seen("piece"), by=Actor(account=office), at=NOW)


@both
def test_rates_learned_as_one_are_decided_as_one(by: Actor, do: Do) -> None:
    history(taken_off=False)
    with pytest.raises(Refused, match="learned as one"):
        do(kind(), seen("piece"), by=by, at=NOW)
    do(kind(), seen(*proposals()), by=by, at=NOW)


@both
def test_a_kind_that_nobody_works_at_has_no_rates(by: Actor, do: Do) -> None:
    with pytest.raises(Refused, match="Nobody works at Cure"):
        do(kind("Cure"), {"piece": Decimal(1)}, by=by, at=NOW)


@both
def test_a_kind_without_rates_is_refused(by: Actor, do: Do) -> None:
    OperationKind.objects.filter(name="Blasting").update(slug="frosting")
    with pytest.raises(Refused, match="Blasting has no rates"):
        do(kind("Blasting"), {"piece": Decimal(1)}, by=by, at=NOW)


def test_what_is_left_is_not_proposed_until_it_moves(by: Actor) -> None:
    history()
    leave_rates(kind(), seen("piece"), by=by, at=NOW)
    left = left_proposals()[kind().pk, "piece"]
    assert left.covers(proposals()["piece"])
    assert not Rate.objects.exists()
    for number in range(40):
        cut(700 + number, 20, 645)
    assert not left.covers(proposals()["piece"])


def test_what_is_left_comes_back_once_the_rate_is_another(by: Actor) -> None:
    history()
    leave_rates(kind(), seen("piece"), by=by, at=NOW)
    set_rate(kind(), step="", driver="piece", minutes=Decimal(7), by=by, at=NOW)
    assert not left_proposals()[kind().pk, "piece"].covers(proposals()["piece"])


def test_a_rate_is_set_by_hand(by: Actor, lead: Account) -> None:
    given = {"step": "", "driver": "piece", "minutes": Decimal("7.5"), "note": "new cutter"}
    set_rate(kind(), **given, by=by, at=NOW)
    row = Rate.objects.get()
    assert (row.minutes, row.since, row.accepted_by) == (Decimal("7.5"), TODAY, lead)
    event = Event.objects.get(verb="set a rate of")
    assert (event.before, event.why) == ({"piece": 6.3}, "new cutter")


def test_a_rate_can_hold_from_a_later_day(by: Actor) -> None:
    later = TODAY + timedelta(days=10)
    set_rate(kind(), step="", driver="piece", minutes=Decimal(7), since=later, by=by, at=NOW)
    assert read_rates(TODAY)["cutting"].rates["piece"] == 6.3
    assert read_rates(later)["cutting"].rates["piece"] == 7


def test_a_step_is_one_that_the_kind_has(by: Actor) -> None:
    set_rate(kind("Beveling"), step="cork", driver="piece", minutes=Decimal(3), by=by, at=NOW)
    with pytest.raises(Refused, match="no step “polish”"):
        set_rate(kind("Beveling"), step="polish", driver="piece", minutes=Decimal(3), by=by, at=NOW)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"driver": "acre"}, "driver"),
        ({"minutes": Decimal(-1)}, "minutes"),
        ({"minutes": Decimal("NaN")}, "minutes"),
        ({"minutes": Decimal(100_001)}, "minutes"),
        ({"note": "x" * 201}, "note"),
        ({"since": TODAY - timedelta(days=1)}, "since"),
        ({"since": TODAY + timedelta(days=367)}, "since"),
    ],
)
def test_a_rate_that_cannot_be_is_refused(by: Actor, wrong: dict[str, Any], field: str) -> None:
    given: dict[str, Any] = {"step": "", "driver": "piece", "minutes": Decimal(7)}
    with pytest.raises(Refused) as refused:
        set_rate(kind(), **given | wrong, by=by, at=NOW)
    assert refused.value.field == field
    assert not Rate.objects.exists()


def test_the_set_up_is_set_by_hand(by: Actor) -> None:
    set_setup(kind(), minutes=Decimal(30), slope=Decimal("0.9"), by=by, at=NOW)
    rates = read_rates(TODAY)["cutting"]
    assert (rates.setup, rates.slope) == (30, 0.9)
    event = Event.objects.get(verb="set the set-up of")
    assert event.before == {"set-up": 45.0, "learning slope": 1.0}


@pytest.mark.parametrize("slope", ["0.49", "1.01"])
def test_a_slope_that_cannot_be_is_refused(by: Actor, slope: str) -> None:
    with pytest.raises(Refused) as refused:
        set_setup(kind(), minutes=Decimal(30), slope=Decimal(slope), by=by, at=NOW)
    assert refused.value.field == "slope"


def test_only_the_lead_sets_rates(office: Account) -> None:
    actor = Actor(account=office)
    with pytest.raises(Refused, match="Only the lead"):
        set_rate(kind(), step="", driver="piece", minutes=Decimal(7), by=actor, at=NOW)
    with pytest.raises(Refused, match="Only the lead"):
        set_setup(kind(), minutes=Decimal(7), by=actor, at=NOW)


def test_as_much_is_guessed_beveled_as_the_picture_shows() -> None:
    cast.make_glass()
    panel = cast.make_panel(cast.make_job(), kinds=("Beveling",), pieces=2, thickness_mm=Decimal("6.35"))
    finish(cast.operation_of(panel, "Beveling"), 300, who="Mara")
    whole = lesson("Beveling").points[0].drivers["beveled_m:plate"]
    halves = [
        {"points": [[x, 0], [x + 300, 0], [x + 300, 900], [x, 900]], "beveled": x == 0} for x in (0, 300)
    ]
    Panel.objects.filter(pk=panel.pk).update(drawing={"width": 600, "height": 900, "pieces": halves})
    assert lesson("Beveling").points[0].drivers["beveled_m:plate"] == pytest.approx(whole / 2)
