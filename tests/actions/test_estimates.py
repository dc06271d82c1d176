"""Estimates from takeoffs."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from jobs import models
from jobs.actions import Actor, Refused, takeoffs
from jobs.actions.estimates import apply_estimates, estimate_panel, estimate_whole_job
from jobs.estimating.takeoff import Takeoff
from jobs.models import Account, Event, Operation, OperationKind, Panel, PlanState, Rate, TimeEntry
from jobs.snapshot.footing import FROM_TAKEOFF
from jobs.snapshot.rates import read_rates
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
DAY = date(2026, 3, 2)


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


def taken_off(panel: Panel, **values: Any) -> Takeoff:
    numbers = Takeoff(**{"width_mm": 600.0, "height_mm": 900.0, "pieces": panel.pieces} | values)
    models.Takeoff.objects.create(
        panel=panel,
        version=panel.takeoffs.count() + 1,
        numbers=numbers.to_json(),
        source="hand",
        at=cast.at(2),
    )
    return numbers


def rate(kind: str, minutes: str, driver: str = "piece", step: str = "", since: date = DAY) -> Rate:
    row = OperationKind.objects.get(name=kind)
    return Rate.objects.create(kind=row, driver=driver, step=step, minutes=Decimal(minutes), since=since)


def test_the_defaults_hold_until_somebody_says_otherwise() -> None:
    panel = cast.make_panel(cast.make_job())
    found = estimate_panel(panel, taken_off(panel), on=DAY)
    # The defaults (practice): cutting 45 + 10 x 6.3, assembly 90 + 10 x 6, beveling 120 + 10 x 10 of its five wheels.
    assert found == {"cutting": 108, "beveling": 220, "assembly": 150}


def test_copies_share_the_set_up() -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting",), copies=4)
    assert estimate_panel(panel, taken_off(panel), on=DAY) == {"cutting": 45 + 4 * 63}


def test_a_rate_holds_from_its_day_on() -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting",))
    takeoff = taken_off(panel)
    rate("Cutting", "7", since=date(2026, 3, 9))
    rate("Cutting", "8", since=date(2026, 3, 16))
    minutes = [estimate_panel(panel, takeoff, on=date(2026, 3, day))["cutting"] for day in (8, 9, 16)]
    assert minutes == [108, 115, 125]


def test_a_rate_of_nothing_takes_a_driver_out_and_leaves_the_others() -> None:
    rate("Cutting", "0", driver="curved_edge")
    rates = read_rates(DAY)["cutting"].rates
    assert rates["curved_edge"] == 0
    assert rates["piece"] == 6.3


def test_a_kind_of_the_studio_s_own_has_rates_once_one_is_set() -> None:
    kind = OperationKind.objects.get(name="Blasting")
    kind.slug = "frosting"
    kind.save()
    assert "frosting" not in read_rates(DAY)
    rate("Blasting", "4")
    assert read_rates(DAY)["frosting"].rates == {"piece": 4}


def test_what_has_not_begun_gets_its_estimate(by: Actor) -> None:
    panel = cast.make_panel(cast.make_job())
    taken_off(panel)
    PlanState.objects.create(pk=1)
    changed = apply_estimates(panel, by=by, at=cast.at(3))
    assert {row.kind.slug: row.estimate for row in changed} == {
        "cutting": 108,
        "beveling": 220,
        "assembly": 150,
    }
    assert cast.operation_of(panel, "Cutting").estimate == 108
    event = Event.objects.get(verb="estimated anew", subject_id=cast.operation_of(panel, "Cutting").pk)
    assert (event.before, event.after, event.why) == ({"minutes": 90}, {"minutes": 108}, FROM_TAKEOFF)
    assert PlanState.objects.get(pk=1).revision > 0


def test_a_second_time_changes_nothing(by: Actor) -> None:
    panel = cast.make_panel(cast.make_job())
    taken_off(panel)
    apply_estimates(panel, by=by, at=cast.at(3))
    assert apply_estimates(panel, by=by, at=cast.at(3)) == []


@pytest.mark.parametrize(
    "begun", ["started_at", "finished_at", "keeper", "quantity_done", "hours", "skipped"]
)
def test_what_has_begun_keeps_its_estimate(by: Actor, begun: str) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting",))
    taken_off(panel)
    row = cast.operation_of(panel, "Cutting")
    mara = cast.person("Mara")
    values: dict[str, Any] = {
        "started_at": {"started_at": cast.at(2)},
        "finished_at": {"finished_at": cast.at(2)},
        "keeper": {"keeper": mara},
        "quantity_done": {"quantity_done": 1},
        "skipped": {"skipped": True},
        "hours": {},
    }[begun]
    Operation.objects.filter(pk=row.pk).update(estimate=90, **values)
    if begun == "hours":
        TimeEntry.objects.create(
            person=mara, operation=row, started_at=cast.at(2), stopped_at=cast.at(2, "09:00"), minutes=60
        )
    assert apply_estimates(panel, by=by, at=cast.at(3)) == []
    row.refresh_from_db()
    assert row.estimate == 90


def test_hours_taken_back_are_no_beginning(by: Actor) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting",))
    taken_off(panel)
    TimeEntry.objects.create(
        person=cast.person("Mara"),
        operation=cast.operation_of(panel, "Cutting"),
        started_at=cast.at(2),
        stopped_at=cast.at(2, "09:00"),
        minutes=60,
        voided_at=cast.at(2, "10:00"),
    )
    assert len(apply_estimates(panel, by=by, at=cast.at(3))) == 1


def test_parts_of_one_kind_share_its_minutes_and_lose_none(by: Actor) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Cutting", "Cutting"))
    taken_off(panel)
    parts = list(panel.operations.order_by("pk"))
    for part, minutes in zip(parts, (10, 20, 40), strict=True):
        part.estimate = minutes
        part.save()
    apply_estimates(panel, by=by, at=cast.at(3))
    shares = list(panel.operations.order_by("pk").values_list("estimate", flat=True))
    assert sum(shares) == 108
    assert shares == [15, 31, 62]


def test_what_is_done_again_after_a_breakage_is_left_alone(by: Actor) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting",))
    taken_off(panel)
    cutting = cast.operation_of(panel, "Cutting")
    broke = models.Breakage.objects.create(operation=cutting, pieces=1, at=cast.at(2))
    again = Operation.objects.create(
        job=panel.job, panel=panel, kind=cutting.kind, estimate=9, quantity=1, breakage=broke
    )
    assert [row.pk for row in apply_estimates(panel, by=by, at=cast.at(3))] == [cutting.pk]
    again.refresh_from_db()
    assert again.estimate == 9


def test_a_panel_that_nobody_took_off_is_refused(by: Actor) -> None:
    panel = cast.make_panel(cast.make_job())
    with pytest.raises(Refused, match="Nobody has taken this panel off yet"):
        apply_estimates(panel, by=by, at=cast.at(3))


def test_a_closed_job_is_refused(by: Actor) -> None:
    panel = cast.make_panel(cast.make_job(stage="complete", closed_at=cast.at(2)))
    taken_off(panel)
    with pytest.raises(Refused, match="complete"):
        apply_estimates(panel, by=by, at=cast.at(3))


def delivered(panels: int) -> models.Job:
    job = cast.make_job()
    for number in range(1, panels + 1):
        taken_off(cast.make_panel(job, number, kinds=("Cutting",)), glass_mm2={"Clear": 500_000.0})
    Operation.objects.create(job=job, kind=OperationKind.objects.get(name="Delivery"), estimate=60)
    return job


def test_work_for_the_whole_job_counts_all_its_panels() -> None:
    job = delivered(2)
    rate("Delivery", "40", driver="glass_m2")
    takeoffs_of = [(taken_off_of(panel), panel.copies) for panel in job.panels.all()]
    # The default set-up of a delivery, 150, and 40 minutes for each of two half square meters.
    assert estimate_whole_job(job, takeoffs_of, on=DAY) == {"delivery": 190}


def taken_off_of(panel: Panel) -> Takeoff:
    found = takeoffs.current_takeoff(panel)
    assert found is not None
    return found


def test_a_takeoff_is_proposed_in_beveled_glass_where_that_is_known() -> None:
    cast.make_glass()
    panel = cast.make_panel(cast.make_job())
    panel.thickness_mm = Decimal("3.00")
    usual = takeoffs.read_usual()
    assert not usual.propose(panel).beveled_mm
    assert list(usual.propose(panel, beveled=True).beveled_mm) == [(6.35, 25.4)]
    assert not usual.propose(panel, beveled=False).beveled_mm
