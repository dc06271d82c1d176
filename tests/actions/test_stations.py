"""Stations: added, changed, and put out of use only when nothing is left to do at them."""

import pytest

from jobs.actions import Actor, Refused, stations
from jobs.models import Account, Event, Operation, PlanState, Station
from tests import cast

NOW = cast.at(2)


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


def test_a_new_station_comes_last_and_has_an_address(by: Actor) -> None:
    before = PlanState.current().revision
    station = stations.add_station("Copper foil", 3, by=by, at=NOW)
    assert (station.slug, station.place, station.benches, station.active) == ("copper-foil", 4, 3, True)
    assert Event.objects.get().verb == "added"
    assert PlanState.current().revision == before + 1


def test_the_first_station_has_the_first_place(db: None) -> None:
    assert stations.add_station("Cutting", by=Actor(), at=NOW).place == 0


def test_an_address_is_never_given_twice_and_stays_with_the_station(by: Actor) -> None:
    cutting = stations.change_station(Station.objects.get(name="Cutting"), {"name": "Saw"}, by=by, at=NOW)
    assert cutting.slug == "cutting"
    assert stations.add_station("Cutting", by=by, at=NOW).slug == "cutting-2"
    assert stations.add_station("✂", by=by, at=NOW).slug == "station"


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"name": "beveling"}, "name"),
        ({"name": "  "}, "name"),
        ({"name": "x" * 41}, "name"),
        ({"benches": 0}, "benches"),
        ({"benches": 201}, "benches"),
        ({"place": -1}, "place"),
        ({"place": 40_000}, "place"),
    ],
)
def test_what_cannot_be_is_refused(by: Actor, values: dict[str, object], field: str) -> None:
    cutting = Station.objects.get(name="Cutting")
    with pytest.raises(Refused) as refused:
        stations.change_station(cutting, values, by=by, at=NOW)
    assert refused.value.field == field
    assert not Event.objects.exists()


def test_a_name_twice_is_refused_for_a_new_one_as_well(by: Actor) -> None:
    with pytest.raises(Refused, match="a station Cutting already"):
        stations.add_station("Cutting", by=by, at=NOW)


def test_a_station_with_open_work_stays_in_use(by: Actor) -> None:
    cast.make_panel(cast.make_job())
    with pytest.raises(Refused, match="1 unfinished operation is still to be done at Beveling"):
        stations.change_station(Station.objects.get(name="Beveling"), {"active": False}, by=by, at=NOW)


def test_a_station_whose_work_is_done_goes_out_of_use(by: Actor) -> None:
    cast.make_panel(cast.make_job())
    Operation.objects.update(finished_at=NOW)
    station = stations.change_station(Station.objects.get(name="Beveling"), {"active": False}, by=by, at=NOW)
    assert not station.active
    assert (Event.objects.get().before, Event.objects.get().after) == ({"active": True}, {"active": False})


def test_nothing_changed_is_not_written(by: Actor) -> None:
    stations.change_station(Station.objects.get(name="Cutting"), {"benches": 2}, by=by, at=NOW)
    assert not Event.objects.exists()
