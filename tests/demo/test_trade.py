"""The fixture that a real studio starts with: it loads alone, and its defaults agree with the trade."""

from decimal import Decimal

import pytest
from django.core.management import call_command

from jobs.models import Came, Glass, Job, Nature, OperationKind, Person, Route, RouteStep, Station

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def trade() -> None:
    call_command("loaddata", "trade", verbosity=0)


def minutes(route: str, kinds: tuple[str, ...], pieces: int) -> float:
    steps = RouteStep.objects.filter(route__name=route, kind__name__in=kinds)
    return float(sum(step.minutes + step.piece_minutes * pieces for step in steps))


def test_it_holds_no_people_and_no_jobs() -> None:
    assert Station.objects.filter(slug="beveling").exists()
    assert not Person.objects.exists()
    assert not Job.objects.exists()
    for model in (Station, OperationKind, Route, Glass, Came):
        assert model.objects.exists()
        for row in model.objects.all():
            row.full_clean()


@pytest.mark.parametrize("route", ["Leaded and beveled window", "Beveled window with a border"])
def test_a_mid_sized_beveled_window(route: str) -> None:
    # Common practice, no published source: about 4 h of cutting, 30 h of beveling, 8 h of building.
    assert minutes(route, ("Cutting",), 30) / 60 == pytest.approx(4, rel=0.1)
    assert minutes(route, ("Beveling",), 30) / 60 == pytest.approx(30, rel=0.05)
    assert minutes(route, ("Assembly", "Soldering"), 30) / 60 == pytest.approx(8, rel=0.1)


def test_a_mural_takes_more_than_100_hours_of_blasting() -> None:
    # Common practice, no published source.
    assert minutes("Carved mural", ("Blasting",), 1) > 100 * 60


def test_cement_rests_one_to_three_days() -> None:
    # Common practice, no published source: rest flat for 24 to 72 h after cementing.
    cures = RouteStep.objects.filter(kind__nature=Nature.CURE)
    assert cures.exists()
    assert all(24 * 60 <= cure.minutes <= 72 * 60 for cure in cures)


def test_beveling_goes_over_five_wheels() -> None:
    assert len(OperationKind.objects.get(slug="beveling").steps) == 5


def _before(step: RouteStep) -> set[int]:
    found: set[int] = set()
    heap = [step]
    while heap:
        for other in heap.pop().after.all():
            if other.pk not in found:
                found.add(other.pk)
                heap.append(other)
    return found


def test_tempering_comes_after_blasting_and_no_route_goes_in_a_circle() -> None:
    # Glass to be tempered is blasted before tempering, never after: float-glass makers' technical notes.
    tempered = 0
    for step in RouteStep.objects.all():
        assert step.pk not in _before(step)
        if step.kind.name == "Tempering" and step.route.steps.filter(kind__name="Blasting").exists():
            assert step.route.steps.get(kind__name="Blasting").pk in _before(step)
            tempered += 1
    assert tempered >= 3


def test_a_border_is_cut_while_the_center_is_on_the_wheel() -> None:
    steps = Route.objects.get(name="Beveled window with a border").steps
    border, center = steps.get(label="Cutting, border"), steps.get(label="Beveling, center")
    assert border.pk not in _before(center)
    assert {border.pk, center.pk} <= _before(steps.get(kind__name="Assembly"))


@pytest.mark.parametrize(
    ("kind", "rule"),
    [
        ("Assembly", "29 CFR 1910.1025"),
        ("Installation", "29 CFR 1926.62"),
        ("Blasting", "29 CFR 1910.1053"),
        ("Blasting", "29 CFR 1910.94"),
        ("Blasting", "Never silica sand"),
        ("Packing", "NIOSH"),
        ("Installation", "confirm with the local building official"),
        ("Installation", "16 CFR 1201"),
    ],
)
def test_cautions_name_their_rule(kind: str, rule: str) -> None:
    assert rule in OperationKind.objects.get(name=kind).cautions


def test_no_caution_declares_compliance() -> None:
    for kind in OperationKind.objects.all():
        assert not any(
            word in kind.cautions.lower() for word in ("complies", "compliant", "compliance", "is safe")
        )


def test_a_stick_of_came_is_six_feet_with_a_heart_of_a_sixteenth() -> None:
    # Common practice, no published source: 6 ft (1.83 m), heart about 1/16 in (1.6 mm).
    for came in Came.objects.all():
        assert float(came.stick_mm) == pytest.approx(6 * 304.8, abs=1)
        assert float(came.heart_mm) == pytest.approx(1.6, abs=0.05)
    assert Came.objects.filter(border=True).exists()
    assert Came.objects.filter(inner=True).exists()


def test_plate_is_beveled_and_thin_glass_is_not() -> None:
    # Common practice, no published source: 1/4 in plate is what a bevel shop works.
    assert [glass.thickness_mm for glass in Glass.objects.filter(beveled=True)] == [Decimal("6.35")]
