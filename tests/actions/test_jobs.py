"""Jobs: numbers, making, copying, changing, stages."""

from datetime import date
from decimal import Decimal

import pytest

from jobs.actions import Actor, Refused
from jobs.actions import jobs as act
from jobs.actions.panels import PanelDraft
from jobs.models import (
    Account,
    Breakage,
    Customer,
    Event,
    Job,
    Operation,
    OperationKind,
    PlanState,
    Route,
    RouteStep,
    Stage,
    TimeEntry,
)
from tests import cast

NOW = cast.at(3)


def draft(name: str = "Light 1", **values: object) -> PanelDraft:
    start = {
        "width_mm": Decimal(600),
        "height_mm": Decimal(900),
        "route": Route.objects.first(),
        "pieces": 10,
    }
    return PanelDraft(name, **start | values)  # type: ignore[arg-type]


def create(lead: Account, **values: object) -> Job:
    start = {"title": "Hall window", "customer": "Parish of the Two Rivers", "panels": [draft()]}
    return act.create_job(**start | values, by=Actor(lead), at=NOW)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("numbers", "following"),
    [
        ([], "0001"),
        (["0412"], "0413"),
        (["0412", "A-7", "99"], "0413"),
        (["9999"], "10000"),
        (["7.2"], "0001"),
    ],
)
def test_next_number(shop: None, numbers: list[str], following: str) -> None:
    for number in numbers:
        cast.make_job(number)
    assert act.next_number() == following


def test_create_from_a_route(lead: Account) -> None:
    revision = PlanState.current().revision
    job = create(lead, gates={"drawing": date(2026, 3, 9), "glass": None}, wanted_by=date(2026, 5, 1))
    assert (job.number, job.stage, job.ordered_at) == ("0001", Stage.ORDERED, NOW)
    operations = list(job.operations.order_by("place"))
    # 30 + 6 x 10, 45 x 10, 240 minutes: the route of the cast.
    assert [(str(o), o.estimate, o.quantity) for o in operations] == [
        ("Cutting", 90, 10),
        ("Beveling", 450, 10),
        ("Assembly", 240, 0),
    ]
    assert list(operations[2].after.all()) == [operations[1]]
    assert {g.kind: g.expected for g in job.gates.all()} == {"drawing": date(2026, 3, 9), "glass": None}
    assert Event.objects.filter(job=job, verb="entered").exists()
    assert PlanState.current().revision > revision


def test_create_makes_a_customer_but_not_twice(lead: Account) -> None:
    create(lead, customer="Alder House", panels=[])
    create(lead, customer="  alder HOUSE ", panels=[])
    assert Customer.objects.filter(name__iexact="alder house").count() == 1


def test_work_of_the_whole_job_is_made_once_and_last(lead: Account) -> None:
    route = Route.objects.get()
    RouteStep.objects.create(
        route=route, kind=OperationKind.objects.get(name="Delivery"), place=9, minutes=120
    ).after.add(route.steps.get(kind__name="Assembly"))
    job = create(lead, panels=[draft("Left"), draft("Right")])
    delivery = job.operations.get(panel=None)
    assert {(o.panel.name, str(o)) for o in delivery.after.all()} == {
        ("Left", "Assembly"),
        ("Right", "Assembly"),
    }
    assert delivery.estimate == 120


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"title": "  "}, "title"),
        ({"title": "x" * 121}, "title"),
        ({"customer": " "}, "customer"),
        ({"customer": "x" * 81}, "customer"),
        ({"number": "0412"}, "number"),
        ({"number": "a/b"}, "number"),
        ({"number": "-1"}, "number"),
        ({"number": ".."}, "number"),
        ({"number": "x" * 21}, "number"),
        ({"number": "New"}, "number"),
        ({"number": "import"}, "number"),
        ({"weight": Decimal(0)}, "weight"),
        ({"weight": Decimal(101)}, "weight"),
        ({"stage": "complete"}, "stage"),
        ({"gates": {"moon": None}}, "gates"),
    ],
)
def test_create_refuses(lead: Account, values: dict, field: str) -> None:
    cast.make_job("0412")
    with pytest.raises(Refused) as refused:
        create(lead, **values)
    assert refused.value.field == field
    assert Job.objects.count() == 1


def test_one_bad_panel_refuses_the_whole_job(lead: Account) -> None:
    with pytest.raises(Refused, match=r"Right: A side of a panel"):
        create(lead, panels=[draft("Left"), draft("Right", width_mm=Decimal(0))])
    assert not Job.objects.exists()


def test_numbers_may_have_letters_hyphens_and_full_stops(lead: Account) -> None:
    assert create(lead, number=" A-7.b ").number == "A-7.b"


def test_copy_has_the_work_but_nothing_done(lead: Account) -> None:
    job = cast.make_job()
    cast.make_gate(job, "drawing", cleared=date(2026, 3, 2))
    panel = cast.make_panel(job)
    cutting = cast.operation_of(panel, "Cutting")
    broken = Breakage.objects.create(operation=cutting, pieces=2, at=NOW)
    Operation.objects.create(
        job=job, panel=panel, kind=cutting.kind, estimate=18, quantity=2, breakage=broken
    )
    Operation.objects.filter(pk=cutting.pk).update(
        quantity=8, quantity_done=8, started_at=NOW, finished_at=NOW
    )
    cast.make_panel(job, 2)
    made = act.copy_job(job, title="Porch", customer="Alder House", by=Actor(lead), at=NOW)
    assert [p.name for p in made.panels.all()] == ["Light 1", "Light 2"]
    assert made.operations.count() == 6
    cut = made.operations.get(panel__number=1, kind__name="Cutting")
    assert (cut.quantity, cut.quantity_done, cut.finished_at, cut.estimate) == (10, 0, None, 90)
    assert [str(o) for o in made.operations.get(panel__number=1, kind__name="Assembly").after.all()] == [
        "Beveling"
    ]
    assert made.gates.get().cleared is None


def test_copy_of_some_panels(lead: Account) -> None:
    job = cast.make_job()
    cast.make_panel(job)
    second = cast.make_panel(job, 2)
    made = act.copy_job(job, title="One", customer=job.customer, panels=[second], by=Actor(lead), at=NOW)
    assert [p.name for p in made.panels.all()] == ["Light 2"]
    assert made.operations.count() == 3


def test_copy_refuses_panels_of_others(lead: Account) -> None:
    job, other = cast.make_job(), cast.make_job("0413")
    panel = cast.make_panel(other)
    with pytest.raises(Refused, match="another job"):
        act.copy_job(job, title="One", customer=job.customer, panels=[panel], by=Actor(lead), at=NOW)


def change(job: Job, lead: Account, **values: object) -> Job:
    start = {
        "title": job.title,
        "customer": job.customer,
        "wanted_by": job.wanted_by,
        "weight": job.weight,
        "notes": job.notes,
    }
    return act.change_job(job, **start | values, by=Actor(lead), at=NOW)  # type: ignore[arg-type]


def test_change_is_written_down(lead: Account) -> None:
    job = cast.make_job()
    change(job, lead, wanted_by=date(2026, 6, 1), weight=Decimal(2))
    event = Event.objects.get(verb="changed", job=job)
    assert event.before["wanted_by"] is None
    assert event.after == {"wanted_by": "2026-06-01", "weight": "2"}
    assert event.account == lead


def test_a_change_of_nothing_leaves_no_trace(lead: Account) -> None:
    change(cast.make_job(), lead)
    assert not Event.objects.exists()


@pytest.mark.parametrize("stage", [Stage.COMPLETE, Stage.CANCELLED, Stage.DECLINED])
def test_a_closed_job_is_not_changed(lead: Account, stage: Stage) -> None:
    job = cast.make_job(stage=stage)
    with pytest.raises(Refused, match=r"reopen it first"):
        change(job, lead, title="Other")


def test_cancel_stops_the_timers_and_clears_the_benches(lead: Account) -> None:
    job = cast.make_job()
    cutting = cast.operation_of(cast.make_panel(job), "Cutting")
    Operation.objects.filter(pk=cutting.pk).update(started_at=cast.at(3, "08:00"), keeper=cast.person("Mara"))
    entry = TimeEntry.objects.create(
        person=cast.person("Mara"), operation=cutting, started_at=cast.at(3, "08:00")
    )
    act.cancel_job(job, why="sold the house", by=Actor(lead), at=cast.at(3, "09:30"))
    entry.refresh_from_db()
    cutting.refresh_from_db()
    job.refresh_from_db()
    assert (entry.minutes, cutting.keeper, job.stage) == (90, None, Stage.CANCELLED)
    assert Event.objects.get(verb="cancelled").why == "sold the house"
    with pytest.raises(Refused, match="cancelled already"):
        act.cancel_job(job, why="again", by=Actor(lead), at=NOW)


@pytest.mark.parametrize("why", ["", "  ", "x" * 201])
def test_cancel_needs_a_reason(lead: Account, why: str) -> None:
    job = cast.make_job()
    with pytest.raises(Refused):
        act.cancel_job(job, why=why, by=Actor(lead), at=NOW)
    job.refresh_from_db()
    assert job.stage == Stage.ORDERED


def test_complete_when_all_is_done(office: Account) -> None:
    job = cast.make_job()
    cast.make_panel(job)
    job.operations.update(finished_at=NOW)
    assert act.complete_job(job, by=Actor(office), at=NOW).closed_at == NOW
    with pytest.raises(Refused, match="cannot be completed"):
        act.complete_job(job, by=Actor(office), at=NOW)


def test_complete_refuses_open_work_unless_the_lead_says_so(office: Account, lead: Account) -> None:
    job = cast.make_job()
    cast.make_panel(job)
    with pytest.raises(
        Refused, match=r"Work is open: Cutting of Light 1, Beveling of Light 1, Assembly of Light 1\."
    ):
        act.complete_job(job, by=Actor(lead), at=NOW)
    with pytest.raises(Refused, match="Only the lead"):
        act.complete_job(job, by=Actor(office), at=NOW, anyway=True)
    act.complete_job(job, by=Actor(lead), at=NOW, anyway=True)
    assert Event.objects.get(verb="completed").why == "with open work"


def test_reopen(lead: Account) -> None:
    job = cast.make_job(stage=Stage.COMPLETE, ordered_at=NOW, closed_at=NOW)
    reopened = act.reopen_job(job, by=Actor(lead), at=NOW)
    assert (reopened.stage, reopened.closed_at) == (Stage.ORDERED, None)
    with pytest.raises(Refused, match="open already"):
        act.reopen_job(job, by=Actor(lead), at=NOW)


def test_a_declined_enquiry_is_an_enquiry_again(lead: Account) -> None:
    job = cast.make_job(stage=Stage.DECLINED)
    assert act.reopen_job(job, by=Actor(lead), at=NOW).stage == Stage.ENQUIRY


def test_order(lead: Account) -> None:
    job = cast.make_job(stage=Stage.QUOTED)
    assert act.order_job(job, by=Actor(lead), at=NOW).ordered_at == NOW
    with pytest.raises(Refused, match="ordered already"):
        act.order_job(job, by=Actor(lead), at=NOW)
