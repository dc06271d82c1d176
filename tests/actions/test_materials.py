"""What a job needs to be bought. All amounts are reckoned by hand from the quantities in tests/quoting.py."""

from datetime import date
from decimal import Decimal

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.materials import reckon, reckon_needs
from jobs.actions.purchases import (
    add_need,
    change_need,
    expect_need,
    needed_days,
    order_need,
    receive_need,
    remove_need,
    take_back_need,
)
from jobs.models import Account, Came, Event, Gate, Glass, Job, Material, Need, Projection, Stage, Supplier
from tests import cast, quoting

MORNING = cast.at(2, "10:00")
TODAY = date(2026, 3, 2)


@pytest.fixture
def job(office: Account) -> Job:
    quoting.make_stock()
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    return job


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


def listed(job: Job) -> dict[str, tuple[Decimal, str]]:
    return {str(need.what): (need.amount, need.unit) for need in job.needs.all()}


def need_of(job: Job, name: str) -> Need:
    return next(need for need in job.needs.all() if str(need.what) == name)


def test_the_needs_of_a_job(job: Job, by: Actor) -> None:
    assert reckon_needs(job, by=by, at=MORNING) == []
    assert listed(job) == {
        # 0.27 m² is three quarters of what is bought.
        "Red": (Decimal("0.360"), "m²"),
        "Blue": (Decimal("0.360"), "m²"),
        # 600 + 600 and 900 + 900 mm from sticks of 1829 mm; three lines of 500 mm from one.
        "H 10 mm border": (Decimal(2), "stick"),
        "H 6 mm": (Decimal(1), "stick"),
        # Nine joints of a hundredth of a kilogram.
        "Solder": (Decimal("0.090"), "kg"),
    }
    assert need_of(job, "Red").note == "1 sheet of 1000 × 1000 mm"
    assert "no plan needs fewer" in need_of(job, "H 6 mm").note
    assert {str(need.what): need.gate for need in job.needs.exclude(gate="")} == {
        "Red": "glass",
        "Blue": "glass",
    }


def test_copies_count(job: Job, by: Actor) -> None:
    job.panels.update(copies=4)
    reckon_needs(job, by=by, at=MORNING)
    assert listed(job)["Red"] == (Decimal("1.440"), "m²")
    assert need_of(job, "Red").note.startswith("2 sheets")
    # Twelve lines of 500 mm, three to a stick.
    assert listed(job)["H 6 mm"] == (Decimal(4), "stick")
    assert listed(job)["Solder"] == (Decimal("0.360"), "kg")


def test_a_material_is_only_for_its_kinds(office: Account) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry("0413", ("Cutting",))
    quoting.take_off(job.panels.get(), office)
    assert "Solder" not in [str(thing.row) for thing in reckon(job).things]


def test_what_is_not_taken_off_is_said(office: Account) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry()
    reckoned = reckon(job)
    assert reckoned.things == []
    assert "Light 1 has not been taken off" in reckoned.problems[0]


def test_glass_that_is_gone_is_said(job: Job) -> None:
    Glass.objects.filter(name="Red").update(name="Ruby")
    reckoned = reckon(job)
    assert "There is no glass “Red”: its area is missing here." in reckoned.problems
    assert "Ruby" not in [str(thing.row) for thing in reckoned.things]


def test_a_piece_larger_than_a_sheet_is_said(office: Account) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry()
    pattern = cast.make_pattern(job.panels.get(), office)
    from jobs.actions.patterns import accept_pattern

    accept_pattern(pattern, by=Actor(account=office), at=MORNING)
    assert reckon(job).problems == []
    # The panes are 300 x 450 mm: they fit no sheet of 400 mm, turned or not.
    Glass.objects.filter(name="Red").update(sheet_width_mm=400, sheet_height_mm=400)
    assert [p for p in reckon(job).problems if "larger than a sheet" in p] == [
        "Red: The largest piece is larger than a sheet."
    ]


def test_reckoned_anew_only_what_is_missing_is_added(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    order_need(need_of(job, "Red"), by=by, at=MORNING)
    job.panels.update(copies=2)
    reckon_needs(job, by=by, at=MORNING)
    red = job.needs.filter(glass__name="Red").order_by("pk")
    assert [(need.amount, need.ordered) for need in red] == [
        (Decimal("0.360"), TODAY),
        (Decimal("0.360"), None),
    ]
    assert listed(job)["Blue"] == (Decimal("0.720"), "m²")
    # What is not needed and not ordered goes; what is ordered stays.
    job.panels.update(copies=1)
    reckon_needs(job, by=by, at=MORNING)
    assert [need.ordered for need in job.needs.filter(glass__name="Red")] == [TODAY]


def test_what_was_set_by_hand_is_left_alone(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    red = need_of(job, "Red")
    change_need(red, amount=Decimal("1.5"), price=Decimal(80), supplier=None, note="whole", by=by, at=MORNING)
    job.panels.update(copies=3)
    reckon_needs(job, by=by, at=MORNING)
    assert [(need.amount, need.price, need.note) for need in job.needs.filter(glass__name="Red")] == [
        (Decimal("1.500"), Decimal("80.00"), "whole")
    ]
    red_thing = next(thing for thing in reckon(job).things if str(thing.row) == "Red")
    assert red_thing.cost == 120


def test_outside_work_keeps_its_price_and_the_next_is_priced_like_it(office: Account, by: Actor) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry("0412", ("Cutting", "Lamination"))
    reckon_needs(job, by=by, at=MORNING)
    need = job.needs.get()
    assert (str(need.outside), need.price, need.panel) == ("Lamination", None, job.panels.get())
    supplier = Supplier.objects.get(name="Northgate Glass")
    change_need(need, amount=Decimal(1), price=Decimal(300), supplier=supplier, by=by, at=MORNING)
    later = quoting.make_enquiry("0413", ("Cutting", "Lamination"))
    later.panels.update(width_mm=1200)
    thing = reckon(later).things[0]
    assert (thing.price, thing.supplier) == (Decimal("600.00"), supplier)


def test_a_closed_job_is_not_reckoned(job: Job, by: Actor) -> None:
    Job.objects.update(stage=Stage.COMPLETE)
    with pytest.raises(Refused, match="reopen it first"):
        reckon_needs(job, by=by, at=MORNING)


def test_ordered_expected_arrived(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    red = order_need(need_of(job, "Red"), by=by, at=MORNING)
    assert (red.ordered, red.expected) == (TODAY, date(2026, 3, 12))
    red = expect_need(red, date(2026, 3, 20), by=by, at=MORNING)
    assert red.expected == date(2026, 3, 20)
    red = receive_need(red, by=by, at=cast.at(19))
    assert red.arrived == date(2026, 3, 19)
    verbs = Event.objects.filter(subject="need").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["ordered", "expected", "arrived"]


def test_the_gate_opens_with_the_last_glass(job: Job, by: Actor) -> None:
    gate = cast.make_gate(job, "glass")
    reckon_needs(job, by=by, at=MORNING)
    red, blue = need_of(job, "Red"), need_of(job, "Blue")
    order_need(red, by=by, at=MORNING)
    gate.refresh_from_db()
    assert gate.expected is None, "nobody knows when the blue comes"
    order_need(blue, expected=date(2026, 3, 25), by=by, at=MORNING)
    gate.refresh_from_db()
    assert gate.expected == date(2026, 3, 25)
    receive_need(blue, by=by, at=cast.at(10))
    gate.refresh_from_db()
    assert (gate.expected, gate.cleared) == (date(2026, 3, 12), None)
    receive_need(red, by=by, at=cast.at(12))
    gate.refresh_from_db()
    assert gate.cleared == date(2026, 3, 12)


def test_what_has_not_arrived_after_all_shuts_the_gate(job: Job, by: Actor) -> None:
    cast.make_gate(job, "glass")
    reckon_needs(job, by=by, at=MORNING)
    for name in ("Red", "Blue"):
        receive_need(need_of(job, name), by=by, at=MORNING)
    assert Gate.objects.get().cleared == TODAY
    take_back_need(need_of(job, "Red"), by=by, at=MORNING)
    assert Gate.objects.get().cleared is None
    assert need_of(job, "Red").arrived is None


def test_an_order_taken_back(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    red = order_need(need_of(job, "Red"), by=by, at=MORNING)
    red = take_back_need(red, by=by, at=MORNING)
    assert (red.ordered, red.expected) == (None, None)
    with pytest.raises(Refused, match="not ordered yet"):
        take_back_need(red, by=by, at=MORNING)


def test_solder_opens_no_gate(job: Job, by: Actor) -> None:
    cast.make_gate(job, "glass")
    reckon_needs(job, by=by, at=MORNING)
    receive_need(need_of(job, "Solder"), by=by, at=MORNING)
    assert Gate.objects.get().cleared is None


def test_refusals_of_a_purchase(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    red = need_of(job, "Red")
    with pytest.raises(Refused, match="not ordered yet"):
        expect_need(red, TODAY, by=by, at=MORNING)
    with pytest.raises(Refused, match="cannot arrive before"):
        order_need(red, expected=date(2026, 3, 1), by=by, at=MORNING)
    order_need(red, by=by, at=MORNING)
    with pytest.raises(Refused, match="ordered already"):
        order_need(red, by=by, at=MORNING)
    receive_need(red, by=by, at=MORNING)
    for refused in (receive_need, order_need):
        with pytest.raises(Refused, match="already"):
            refused(red, by=by, at=MORNING)
    with pytest.raises(Refused, match="arrived already"):
        expect_need(red, TODAY, by=by, at=MORNING)
    red.delete()
    with pytest.raises(Refused, match="not on the list"):
        receive_need(Need(pk=999, job=job), by=by, at=MORNING)


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"amount": Decimal(0)}, "amount"),
        ({"price": Decimal(-1)}, "price"),
        ({"note": "x" * 201}, "note"),
    ],
)
def test_what_cannot_be_set_by_hand(job: Job, by: Actor, values: dict[str, object], field: str) -> None:
    reckon_needs(job, by=by, at=MORNING)
    right: dict[str, object] = {"amount": Decimal(1), "price": None, "supplier": None, "note": ""}
    with pytest.raises(Refused) as refused:
        change_need(need_of(job, "Red"), **right | values, by=by, at=MORNING)  # type: ignore[arg-type]
    assert refused.value.field == field


def test_needed_by_the_start_of_the_work_that_it_is_for(job: Job, by: Actor) -> None:
    """Glass for what waits for glass, came for what has a rate by the meter, solder for its kinds."""
    panel = job.panels.get()
    for kind, day in (("Cutting", 9), ("Assembly", 16)):
        moment = cast.at(day)
        Projection.objects.create(
            operation=cast.operation_of(panel, kind), p50=moment, p80=moment, p95=moment, start=moment
        )
    reckon_needs(job, by=by, at=MORNING)
    days = needed_days(job.needs.select_related("material"), at=MORNING)
    found = {str(need.what): days[need.pk] for need in job.needs.all()}
    assert (found["Red"], found["H 6 mm"], found["Solder"]) == (
        date(2026, 3, 9),
        date(2026, 3, 16),
        date(2026, 3, 16),
    )
    # Written down too, so that the list is in order; ten days before that the glass has to be ordered.
    assert need_of(job, "Red").order_by == date(2026, 2, 27)


def test_a_job_without_a_plan_has_no_day(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    assert needed_days(job.needs.all(), at=MORNING) == {}
    assert need_of(job, "Red").order_by is None


def test_outside_work_that_is_back_is_not_needed(office: Account, by: Actor) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry("0412", ("Lamination",))
    row = cast.operation_of(job.panels.get(), "Lamination")
    Job.objects.update(stage=Stage.ORDERED)
    reckon_needs(job, by=by, at=MORNING)
    assert job.needs.count() == 1
    row.started_at, row.finished_at = cast.at(2, "10:30"), cast.at(3)
    row.save()
    reckon_needs(job, by=by, at=cast.at(4))
    assert job.needs.count() == 0


def test_a_need_by_hand_without_a_takeoff(office: Account, by: Actor) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry()
    red = Glass.objects.get(name="Red")
    need = add_need(job, red, amount=Decimal("1.5"), needed_by=date(2026, 3, 20), by=by, at=MORNING)
    assert (need.unit, need.price, need.gate, need.by_hand) == ("m²", Decimal(100), "glass", True)
    assert need.supplier == Supplier.objects.get(name="Northgate Glass")
    # The typed day less the ten days of its supplier.
    assert need.order_by == date(2026, 3, 10)
    assert Event.objects.filter(verb="listed", subject="need", job=job).count() == 1
    # It is priced with the job, on its only panel, and reckoning keeps it.
    thing = reckon(job).things[0]
    assert (thing.row, thing.cost, dict(thing.shares)) == (red, Decimal(150), {job.panels.get().pk: 1.0})
    reckon_needs(job, by=by, at=MORNING)
    assert listed(job) == {"Red": (Decimal("1.500"), "m²")}


def test_each_sort_by_hand_has_its_unit(office: Account, by: Actor) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry()
    for row in (Came.objects.get(inner=True), Material.objects.get()):
        add_need(job, row, amount=Decimal(2), price=Decimal(9), by=by, at=MORNING)
    assert listed(job) == {"H 6 mm": (Decimal(2), "stick"), "Solder": (Decimal(2), "kg")}
    assert {need.price for need in job.needs.all()} == {Decimal(9)}


def test_the_plan_says_the_day_where_none_was_typed(office: Account, by: Actor) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry()
    moment = cast.at(16)
    Projection.objects.create(
        operation=cast.operation_of(job.panels.get(), "Cutting"),
        p50=moment,
        p80=moment,
        p95=moment,
        start=moment,
    )
    for name, day in (("Red", None), ("Blue", date(2026, 3, 9))):
        add_need(job, Glass.objects.get(name=name), amount=Decimal(1), needed_by=day, by=by, at=MORNING)
    reckon_needs(job, by=by, at=MORNING)
    assert need_of(job, "Red").needed_by == date(2026, 3, 16)
    assert need_of(job, "Blue").needed_by == date(2026, 3, 9)


def test_more_by_hand_of_what_is_ordered(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    order_need(need_of(job, "Red"), by=by, at=MORNING)
    add_need(job, Glass.objects.get(name="Red"), amount=Decimal(1), by=by, at=MORNING)
    red = next(thing for thing in reckon(job).things if str(thing.row) == "Red")
    assert red.amount == Decimal("1.360")


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"amount": Decimal(0)}, "amount"),
        ({"price": Decimal(-1)}, "price"),
        ({"note": "x" * 201}, "note"),
        ({"needed_by": date(2026, 3, 1)}, "needed_by"),
        ({"needed_by": date(2046, 3, 1)}, "needed_by"),
    ],
)
def test_what_cannot_be_added_by_hand(
    office: Account, by: Actor, values: dict[str, object], field: str
) -> None:
    quoting.make_stock()
    job = quoting.make_enquiry()
    with pytest.raises(Refused) as refused:
        add_need(job, Glass.objects.get(name="Red"), **{"amount": Decimal(1)} | values, by=by, at=MORNING)  # type: ignore[arg-type]
    assert refused.value.field == field
    assert not job.needs.exists()


def test_refusals_of_a_need_by_hand(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    red = Glass.objects.get(name="Red")
    with pytest.raises(Refused, match="Red is on the list already"):
        add_need(job, red, amount=Decimal(1), by=by, at=MORNING)
    job.needs.all().delete()
    red.active = False
    with pytest.raises(Refused, match="not bought any more"):
        add_need(job, red, amount=Decimal(1), by=by, at=MORNING)
    Job.objects.update(stage=Stage.COMPLETE)
    with pytest.raises(Refused, match="reopen it first"):
        add_need(job, Glass.objects.get(name="Blue"), amount=Decimal(1), by=by, at=MORNING)


def test_a_need_by_hand_is_removed(job: Job, by: Actor) -> None:
    reckon_needs(job, by=by, at=MORNING)
    with pytest.raises(Refused, match="by its takeoff"):
        remove_need(need_of(job, "Red"), by=by, at=MORNING)
    solder = need_of(job, "Solder")
    solder.delete()
    by_hand = add_need(job, Material.objects.get(), amount=Decimal(3), by=by, at=MORNING)
    order_need(by_hand, by=by, at=MORNING)
    with pytest.raises(Refused, match="take that back first"):
        remove_need(by_hand, by=by, at=MORNING)
    take_back_need(by_hand, by=by, at=MORNING)
    remove_need(by_hand, by=by, at=MORNING)
    assert not job.needs.filter(material__isnull=False).exists()
    assert Event.objects.filter(verb="taken off the list").count() == 1
