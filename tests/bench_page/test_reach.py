"""How far a person at a bench reaches: the work of its station, their own wherever it is, and nobody else's."""

import pytest
from django.test import Client

from jobs.actions import Actor
from jobs.actions.bench import start
from jobs.actions.holds import hold
from jobs.models import Account, LateTap, Operation, TimeEntry
from tests import cast
from tests.bench_page.test_bench import Clock, come
from tests.bench_page.test_bench import clock as clock
from tests.bench_page.test_outbox import item, mark, only, send
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
BEVELING = "/bench/beveling/"


@pytest.fixture
def cutting(clock: Clock) -> Operation:
    """Work at another station than that of the tablet."""
    clock.time = at(2, "10:00")
    return cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")


@pytest.mark.parametrize("verb", ["start", "finish", "pieces", "hold", "break", "photo", "put-back"])
def test_work_of_another_station_is_not_there(tablet_client: Client, cutting: Operation, verb: str) -> None:
    come(tablet_client, "Mara", BEVELING)
    assert tablet_client.post(f"{BEVELING}{cutting.pk}/{verb}/", {"add": "1"}).status_code == 404
    cutting.refresh_from_db()
    assert (cutting.started_at, cutting.quantity_done) == (None, 0)


def test_ones_own_work_is_reached_from_another_bench(
    tablet_client: Client, tablet: Account, cutting: Operation
) -> None:
    mara = cast.person("Mara")
    start(cutting, mara, by=Actor(account=tablet, person=mara), at=at(2, "09:00"))
    come(tablet_client, "Mara", BEVELING)
    assert tablet_client.post(f"{BEVELING}{cutting.pk}/pause/").status_code == 303
    assert TimeEntry.objects.get().stopped_at == at(2, "10:00")


def test_what_holds_the_panel_of_work_here_is_released_here(
    tablet_client: Client, cutting: Operation
) -> None:
    assert cutting.panel is not None
    held = hold(cutting.panel, "Glass", by=Actor(), at=at(2, "09:00"))
    come(tablet_client, "Mara", BEVELING)
    assert tablet_client.post(f"/bench/blasting/{held.pk}/release/").status_code == 404
    assert tablet_client.post(f"{BEVELING}{held.pk}/release/").status_code == 303
    held.refresh_from_db()
    assert held.released_by == "Mara Lind"


def test_what_comes_late_about_somebody_elses_hours_is_not_there(
    tablet_client: Client, tablet: Account, cutting: Operation
) -> None:
    jonas = cast.person("Jonas")
    entry = start(cutting, jonas, by=Actor(account=tablet, person=jonas), at=at(2, "09:00"))
    late = item(mark(tablet_client), "answer", entry, at(2, "09:30"))
    late["fields"] = {"day": "2026-03-02", "time": "09:20"}
    assert only(send(tablet_client, late)) == ("refused", "That is not there any more.")
    entry.refresh_from_db()
    assert entry.is_running
    assert not LateTap.objects.exists()
