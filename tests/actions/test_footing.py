"""Learned rates that were accepted do not correct the dates twice: history and open work stand on one footing."""

import math
import random
import statistics
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from jobs import models
from jobs.actions import Actor
from jobs.actions.estimates import apply_estimates
from jobs.actions.learning import read_lessons
from jobs.actions.operations import change_estimate
from jobs.actions.quoting import reckon_offer
from jobs.actions.rates import accept_rates, set_rate
from jobs.actions.whatif import new_job
from jobs.estimating.takeoff import Takeoff
from jobs.models import Account, Operation, OperationKind, Panel, PlanState, Quote, Route, TimeEntry
from jobs.planning.durations import medians
from jobs.snapshot import read_shop, read_shop_then
from jobs.snapshot.footing import AS_QUOTED, FINISHED, read_footing
from jobs.snapshot.rates import read_spreads
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
ESTIMATED_AT, ACCEPTED_AT, NOW = cast.at(2), cast.at(20), cast.at(27)
TRUTH = 1.4  # So much longer than the default rates say does cutting take in these studios.
NOISE = 0.15  # Log standard deviation of one panel.


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


def cutting() -> OperationKind:
    return OperationKind.objects.get(name="Cutting")


def panel(number: int, pieces: int, *, taken_off: bool) -> Panel:
    made = cast.make_panel(cast.make_job(f"{number:04}"), kinds=("Cutting",), pieces=pieces)
    if taken_off:
        numbers = Takeoff(width_mm=600.0, height_mm=900.0, pieces=pieces).to_json()
        models.Takeoff.objects.create(panel=made, version=1, numbers=numbers, source="hand", at=ESTIMATED_AT)
    return made


def truth(pieces: int) -> float:
    return TRUTH * (45 + 6.3 * pieces)


def open_panels(first: int, by: Actor, at: datetime, *, taken_off: bool) -> list[Operation]:
    """Work that lies before the floor, estimated at `at`."""
    found = []
    for number in range(8):
        made = panel(first + number, 12 + 7 * number, taken_off=taken_off)
        _estimate(made, by, at, taken_off=taken_off)
        found.append(cast.operation_of(made, "Cutting"))
    return found


def finished_panels(by: Actor, *, taken_off: bool, count: int = 40) -> None:
    draw = random.Random(3)
    for number in range(count):
        made = panel(1000 + number, 10 + 5 * (number % 9), taken_off=taken_off)
        _estimate(made, by, ESTIMATED_AT, taken_off=taken_off)
        minutes = round(truth(made.pieces) * draw.lognormvariate(0, NOISE))
        start = ESTIMATED_AT + timedelta(hours=number)
        stop = start + timedelta(minutes=minutes)
        row = cast.operation_of(made, "Cutting")
        TimeEntry.objects.create(
            person=cast.person("Jonas"), operation=row, started_at=start, stopped_at=stop, minutes=minutes
        )
        Operation.objects.filter(pk=row.pk).update(started_at=start, finished_at=stop)


def _estimate(made: Panel, by: Actor, at: datetime, *, taken_off: bool) -> None:
    if taken_off:
        apply_estimates(made, by=by, at=at)
    else:  # As a route does it, which leaves no event.
        Operation.objects.filter(panel=made).update(estimate=round(45 + 6.3 * made.pieces))


def accept(by: Actor, at: datetime = ACCEPTED_AT) -> None:
    """Accept all that was learned of cutting."""
    lesson = read_lessons(at.date(), at, cutting())[0]
    assert lesson.learned is not None
    chosen = [each for each in lesson.learned.proposals if each.panels or not lesson.by_driver]
    seen = {each.driver: Decimal(f"{each.learned:.6f}") for each in chosen}
    accept_rates(cutting(), seen, by=by, at=at)


def bias(at: datetime = NOW) -> float:
    return read_spreads(at)[cutting().pk].m


def planned(rows: list[Operation]) -> list[float]:
    """What the planner takes each of them to last in the middle, in minutes."""
    shop = read_shop(NOW)
    minutes = medians(shop.operations, shop.kinds, now=NOW)[0]
    known = {each.id: float(m) for each, m in zip(shop.operations, minutes, strict=True)}
    return [known[row.pk] for row in rows]


def off(rows: list[Operation]) -> float:
    """The mean of ln(planned / truth)."""
    pieces = [
        row.panel.pieces for row in Operation.objects.filter(pk__in=[r.pk for r in rows]).order_by("pk")
    ]
    pairs = zip(planned(sorted(rows, key=lambda r: r.pk)), pieces, strict=True)
    return statistics.fmean(math.log(minutes / truth(count)) for minutes, count in pairs)


def test_once_rates_are_accepted_the_bias_is_gone_and_the_dates_stay_as_true(by: Actor) -> None:
    finished_panels(by, taken_off=True)
    early = open_panels(2000, by, ESTIMATED_AT, taken_off=True)
    before, was_off = bias(), off(early)
    assert before == pytest.approx(math.log(TRUTH), abs=0.07)
    assert abs(was_off) < 0.06
    accept(by)
    late = open_panels(3000, by, NOW, taken_off=True)
    assert abs(bias()) < 0.04
    # Applied twice it would be a third too long.
    assert abs(off(early)) < 0.06
    assert abs(off(late)) < 0.06
    assert off(early) == pytest.approx(was_off, abs=0.03)


def test_the_rows_keep_what_was_estimated(by: Actor) -> None:
    finished_panels(by, taken_off=True)
    row = open_panels(2000, by, ESTIMATED_AT, taken_off=True)[0]
    accept(by)
    assert Operation.objects.get(pk=row.pk).estimate == row.estimate
    told = {each.id: each.minutes for each in read_shop(NOW).operations}
    assert told[row.pk] == pytest.approx(TRUTH * row.estimate, rel=0.12)


def test_a_studio_that_estimates_by_routes_plans_on_as_it_did(by: Actor) -> None:
    """Its routes do not change with the rates: neither do its dates, before and after it accepts."""
    finished_panels(by, taken_off=False)
    early = open_panels(2000, by, ESTIMATED_AT, taken_off=False)
    before = planned(early)
    assert abs(off(early)) < 0.06
    accept(by)
    late = open_panels(3000, by, NOW, taken_off=False)
    assert abs(bias()) < 0.05
    assert planned(early) == pytest.approx(before, rel=0.03)
    assert planned(late) == pytest.approx(before, rel=0.03)


def test_accepting_before_anything_new_was_learned_changes_little_the_second_time(by: Actor) -> None:
    finished_panels(by, taken_off=True)
    accept(by)
    early = open_panels(2000, by, ESTIMATED_AT, taken_off=True)
    once = planned(early)
    accept(by, cast.at(25))
    assert planned(early) == pytest.approx(once, rel=0.03)


def test_without_a_rate_of_its_own_nothing_is_scaled(by: Actor, django_assert_num_queries: Any) -> None:
    finished_panels(by, taken_off=True, count=2)
    row = Operation.objects.earliest("pk")
    with django_assert_num_queries(3):
        footing = read_footing(NOW)
    assert footing.factor(row.pk, cutting(), row.panel_id) == 1.0
    assert footing.usual(cutting()) == 1.0


def test_a_rate_set_by_hand_rescales_what_follows_the_rates_and_nothing_else(by: Actor) -> None:
    measured, guessed = (
        open_panels(first, by, ESTIMATED_AT, taken_off=own)[0] for first, own in ((1, True), (50, False))
    )
    set_rate(cutting(), step="", driver="piece", minutes=Decimal("12.6"), by=by, at=ACCEPTED_AT)
    footing = read_footing(NOW)
    was = 45 + 6.3 * 12
    assert footing.factor(measured.pk, cutting(), measured.panel_id) == pytest.approx((was + 6.3 * 12) / was)
    assert footing.factor(guessed.pk, cutting(), guessed.panel_id) == 1.0


def test_the_plan_is_out_of_date_once_rates_are_accepted_or_set(by: Actor) -> None:
    finished_panels(by, taken_off=True)
    was = PlanState.current().revision
    accept(by)
    accepted = PlanState.current().revision
    assert accepted > was
    set_rate(cutting(), step="", driver="piece", minutes=Decimal(7), by=by, at=NOW)
    assert PlanState.current().revision > accepted


def test_what_is_typed_after_the_acceptance_holds_as_it_is(by: Actor) -> None:
    finished_panels(by, taken_off=True)
    typed, other = open_panels(2000, by, ESTIMATED_AT, taken_off=False)[:2]
    accept(by)
    change_estimate(typed, 300, why="the client wants it thicker", by=by, at=NOW)
    footing = read_footing(NOW)
    assert footing.factor(typed.pk, cutting(), typed.panel_id) == 1.0
    assert footing.factor(other.pk, cutting(), other.panel_id) == pytest.approx(TRUTH, rel=0.1)


def test_hours_as_quoted_follow_the_rates_of_the_day_the_quote_was_sent(by: Actor) -> None:
    finished_panels(by, taken_off=True)
    row = panel(2000, 20, taken_off=True).operations.get()
    Quote.objects.create(
        job=row.job,
        version=1,
        state="accepted",
        made_at=ESTIMATED_AT,
        made_by=by.account,
        sent_at=ESTIMATED_AT,
        sent_by=by.account,
        answered_at=NOW,
        answered_by=by.account,
        frozen={"estimates": {}},
        valid_until=date(2026, 5, 1),
    )
    accept(by)
    change_estimate(row, 171, why=f"{AS_QUOTED}1", by=by, at=NOW)
    assert read_footing(NOW).factor(row.pk, cutting(), row.panel_id) == pytest.approx(TRUTH, rel=0.1)
    change_estimate(row, 240, why=f"{AS_QUOTED}2", by=by, at=NOW)
    assert read_footing(NOW).factor(row.pk, cutting(), row.panel_id) == 1.0


def test_looking_back_knows_only_what_was_accepted_by_then(by: Actor) -> None:
    finished_panels(by, taken_off=True)
    early = open_panels(2000, by, ESTIMATED_AT, taken_off=True)
    accept(by)
    for at, factor in ((cast.at(19), 1.0), (NOW, TRUTH)):
        told = {each.id: each.minutes for each in read_shop_then(at).operations}
        assert told[early[0].pk] == pytest.approx(factor * early[0].estimate, rel=0.12)


def test_quotes_and_questions_stand_on_the_same_footing(by: Actor) -> None:
    """What nobody took off is quoted, and a new job asked for, at what was learned, whatever its route still says."""
    finished_panels(by, taken_off=True)
    job = panel(2000, 20, taken_off=False).job
    was = new_job(read_shop(NOW), Route.objects.get(), 10, None, at=cast.at(19))
    quoted = reckon_offer(job, at=cast.at(19)).estimates
    accept(by)
    now = new_job(read_shop(NOW), Route.objects.get(), 10, None, at=NOW)
    assert now.operations[0].minutes == pytest.approx(TRUTH * was.operations[0].minutes, rel=0.1)
    assert now.operations[1].minutes == was.operations[1].minutes
    then = reckon_offer(job, at=NOW).estimates
    first, second = (next(iter(each.values())) for each in (quoted, then))
    assert next(iter(second.values())) == pytest.approx(TRUTH * next(iter(first.values())), rel=0.1)


def test_the_record_says_what_it_came_to_all_together(by: Actor) -> None:
    finished_panels(by, taken_off=True)
    accept(by)
    event = models.Event.objects.get(subject="operationkind")
    assert event.after[FINISHED] / event.before[FINISHED] == pytest.approx(TRUTH, rel=0.07)
    assert models.Rate.objects.get(driver="piece").since == date(2026, 3, 20)
