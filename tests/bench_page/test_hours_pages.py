"""Hours on pages: a person's own at the bench, everybody's at the lead's."""

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from jobs.actions import Actor
from jobs.actions.bench import start
from jobs.actions.hours import log_span
from jobs.models import Event, Operation, Panel, TimeEntry
from tests import cast
from tests.bench_page.test_bench import CUTTING, Clock, come, words
from tests.bench_page.test_bench import clock as clock
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
MINE = f"{CUTTING}hours/"


@pytest.fixture
def panel() -> Panel:
    return cast.make_panel(cast.make_job())


@pytest.fixture
def cutting(panel: Panel) -> Operation:
    return cast.operation_of(panel, "Cutting")


def log(operation: Operation, name: str, day: int, first: str, last: str) -> TimeEntry:
    person = cast.person(name)
    return log_span(
        operation, person, at(day, first), at(day, last), by=Actor(person=person), at=at(day, "20:00")
    )


def post(client: Client, address: str, **values: Any) -> Any:
    return client.post(address, {"client_id": str(uuid4()), **values})


def test_a_person_writes_hours_down(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    clock.time = at(4, "13:00")
    come(tablet_client, "Mara")
    assert "0412/1 Cutting" in words(tablet_client.get(MINE))
    times = {"operation": cutting.pk, "day": "2026-03-04", "start": "08:00", "stop": "09:30", "hours": ""}
    assert post(tablet_client, MINE, **times, note="forgot to tap").status_code == 303
    entry = TimeEntry.objects.get()
    assert (entry.minutes, entry.note, str(entry.person)) == (90, "forgot to tap", "Mara Lind")
    post(tablet_client, MINE, operation=cutting.pk, day="2026-03-03", hours="2:15")
    page = words(tablet_client.get(MINE))
    for shown in ("Today", "08:00–09:30", "1:30", "forgot to tap", "Tue 3 Mar", "2:15"):
        assert shown in page


@pytest.mark.parametrize(
    ("values", "sentence", "kept"),
    [
        ({"start": "08:30", "stop": "09:30"}, "overlaps with Cutting of Mara Lind", 'value="08:30"'),
        ({"start": "10:00", "stop": "14:00"}, "still to come", 'value="14:00"'),
        ({"start": "10:00", "stop": "09:00"}, "ends before it begins", 'value="10:00"'),
        ({"start": "10:00"}, "Both times are needed", 'value="10:00"'),
        ({"stop": "10:00"}, "Both times are needed", 'value="10:00"'),
        ({}, "Type from when to when", 'name="hours"'),
        ({"start": "10:00", "stop": "11:00", "hours": "1"}, "not both", 'value="1"'),
        ({"hours": "lots"}, "not an amount of time", 'value="lots"'),
        ({"hours": "17"}, "more than 16 hours", 'value="17'),
        ({"hours": "1", "day": "2026-03-05"}, "still to come", 'value="2026-03-05"'),
        ({"hours": "1", "day": "soon"}, "Enter a valid date", 'value="soon"'),
        ({"hours": "1", "operation": "0"}, "Select a valid choice", 'value="1"'),
    ],
)
def test_hours_are_refused_beside_what_was_typed(
    tablet_client: Client, clock: Clock, cutting: Operation, values: Any, sentence: str, kept: str
) -> None:
    clock.time = at(4, "13:00")
    log(cutting, "Mara", 4, "09:00", "09:45")
    come(tablet_client, "Mara")
    typed = {"operation": cutting.pk, "day": "2026-03-04", "note": "kept note", **values}
    response = post(tablet_client, MINE, **typed)
    page = words(response)
    assert response.status_code == 422
    assert sentence in page
    assert kept in page
    assert 'value="kept note"' in page
    assert TimeEntry.objects.count() == 1


def test_hours_in_the_gap_of_a_clock_change_are_refused(
    tablet_client: Client, clock: Clock, cutting: Operation
) -> None:
    clock.time = at(29, "12:00")
    come(tablet_client, "Mara")
    typed = {"operation": cutting.pk, "day": "2026-03-29", "start": "02:30", "stop": "04:00"}
    response = post(tablet_client, MINE, **typed)
    assert response.status_code == 422
    assert "Clocks change at that time" in words(response)


def test_hours_before_what_comes_first_are_refused(tablet_client: Client, clock: Clock, panel: Panel) -> None:
    clock.time = at(4, "13:00")
    come(tablet_client, "Mara")
    beveling = cast.operation_of(panel, "Beveling")
    typed = {"operation": beveling.pk, "day": "2026-03-04", "hours": "1", "allow": "on"}
    response = post(tablet_client, "/bench/beveling/hours/", **typed)
    assert response.status_code == 422
    assert "before Cutting is finished. The lead can allow it." in words(response)


def test_a_person_corrects_and_takes_back(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    entry = log(cutting, "Mara", 3, "08:00", "10:00")
    clock.time = at(4, "13:00")
    come(tablet_client, "Mara")
    assert "Correct it" not in words(tablet_client.get(MINE))
    assert "Correct it" in words(tablet_client.get(f"{MINE}?change={entry.pk}"))
    typed = {"day": "2026-03-03", "start": "08:30", "stop": "10:00", "reason": "late bus"}
    wrong = post(tablet_client, f"{MINE}{entry.pk}/correct/", **typed | {"stop": "08:00"})
    assert wrong.status_code == 422
    assert "ends before it begins" in words(wrong)
    assert 'value="late bus"' in words(wrong)
    assert post(tablet_client, f"{MINE}{entry.pk}/correct/", **typed).status_code == 303
    made = TimeEntry.objects.valid().get()
    assert (made.minutes, made.corrects) == (90, entry)
    page = words(tablet_client.get(MINE))
    assert "late bus" in page
    assert "08:00–10:00" in page  # The first one can still be seen.
    empty = post(tablet_client, f"{MINE}{made.pk}/take-back/", reason="")
    assert (empty.status_code, "This field is required" in words(empty)) == (422, True)
    assert post(tablet_client, f"{MINE}{made.pk}/take-back/", reason="wrong panel").status_code == 303
    assert not TimeEntry.objects.valid().exists()
    again = post(tablet_client, f"{MINE}{made.pk}/take-back/", reason="wrong panel")
    assert again.status_code == 422


def test_others_hours_are_not_theirs_to_change(
    tablet_client: Client, clock: Clock, cutting: Operation
) -> None:
    entry = log(cutting, "Jonas", 3, "08:00", "10:00")
    clock.time = at(4, "13:00")
    come(tablet_client, "Mara")
    typed = {"day": "2026-03-03", "start": "08:30", "stop": "10:00"}
    assert post(tablet_client, f"{MINE}{entry.pk}/correct/", **typed).status_code == 404
    assert post(tablet_client, f"{MINE}{entry.pk}/take-back/", reason="x").status_code == 404
    assert "10:00" not in words(tablet_client.get(MINE))


def test_hours_at_the_bench_ask_for_a_name(tablet_client: Client, cutting: Operation) -> None:
    assert tablet_client.get(MINE).url == CUTTING
    assert post(tablet_client, f"{MINE}1/correct/").url == CUTTING
    assert post(tablet_client, MINE).url == CUTTING
    assert tablet_client.get(f"{MINE}1/correct/").status_code == 405


def test_only_the_lead_sees_everybodys_hours(
    lead_client: Client, office_client: Client, tablet_client: Client
) -> None:
    addresses = ["/hours/write/", "/hours/1/answer/", "/hours/1/correct/", "/hours/1/take-back/"]
    for client in (office_client, tablet_client):
        assert client.get("/hours/").status_code == 403
        assert [client.post(address).status_code for address in addresses] == [403] * 4
    assert Client().get("/hours/").url.startswith("/sign-in/")
    assert lead_client.get("/hours/").status_code == 200
    assert [lead_client.get(address).status_code for address in addresses] == [405] * 4
    assert lead_client.post("/hours/1/answer/").status_code == 404


def test_the_week_by_day_and_person(lead_client: Client, clock: Clock, cutting: Operation) -> None:
    clock.time = at(12, "12:00")
    log(cutting, "Mara", 3, "08:00", "10:00")
    log(cutting, "Mara", 4, "08:00", "09:00")
    log(cutting, "Jonas", 4, "11:00", "14:00")
    log(cutting, "Jonas", 10, "08:00", "08:40")
    this_week = words(lead_client.get("/hours/"))
    assert "08:00–08:40" in this_week
    assert "08:00–10:00" not in this_week
    page = words(lead_client.get("/hours/?day=2026-03-05"))
    assert "Mon 2 Mar to Sun 8 Mar" in page
    assert "<dt>Mara Lind</dt><dd>3:00</dd>" in page
    assert "<dt>Jonas Beck</dt><dd>2:30</dd>" in page  # His break does not count.
    assert page.index("Wed 4 Mar</h2>") < page.index("Tue 3 Mar</h2>")
    only = words(lead_client.get(f"/hours/?day=2026-03-05&person={cast.person('Jonas').pk}"))
    assert "08:00–10:00" not in only
    assert "11:00–14:00" in only
    assert "Nothing is written down" in words(lead_client.get("/hours/?day=2020-01-01&person=999"))
    assert "Mon 9 Mar" in words(lead_client.get("/hours/?day=rubbish&person=rubbish&change=rubbish"))
    assert lead_client.get("/hours/?day=0001-01-01").status_code == 200


def test_the_lead_writes_down_what_others_may_not(lead_client: Client, clock: Clock, panel: Panel) -> None:
    clock.time = at(4, "13:00")
    typed: dict[str, Any] = {
        "person": cast.person("Mara").pk,
        "work": "0412/1 beveling",
        "day": "2026-03-03",
        "hours": "1.5",
    }
    refused = post(lead_client, "/hours/write/", **typed)
    assert refused.status_code == 422
    assert "before Cutting is finished" in words(refused)
    assert 'value="0412/1 beveling"' in words(refused)
    assert post(lead_client, "/hours/write/", **typed, allow="on").status_code == 303
    entry = TimeEntry.objects.get()
    assert (entry.minutes, str(entry.operation)) == (90, "Beveling")
    assert Event.objects.get().why.startswith("allowed: It cannot")
    for work in ("0412/9 Cutting", "0412/x Cutting", "Cutting", "0412 Cutting", "9999/1 Cutting"):
        nowhere = post(lead_client, "/hours/write/", **typed | {"work": work})
        assert (nowhere.status_code, "There is no such work" in words(nowhere)) == (422, True), work


def test_the_lead_answers_for_a_timer_left_on(lead_client: Client, clock: Clock, cutting: Operation) -> None:
    mara = cast.person("Mara")
    entry = start(cutting, mara, by=Actor(person=mara), at=at(2, "15:00"))
    clock.time = at(2, "16:00")
    assert "Timers left on" not in words(lead_client.get("/hours/"))
    clock.time = at(4, "08:00")
    page = words(lead_client.get("/hours/"))
    assert "Timers left on" in page
    assert "Stopped Mon 2 Mar, 16:30" in page
    wrong = post(lead_client, f"/hours/{entry.pk}/answer/", when="typed", day="2026-03-02", time="14:00")
    assert wrong.status_code == 422
    assert "ends before it begins" in words(wrong)
    assert 'value="14:00"' in words(wrong)
    assert post(lead_client, f"/hours/{entry.pk}/answer/", when="end").status_code == 303
    entry.refresh_from_db()
    assert (entry.minutes, entry.stopped_at) == (90, at(2, "16:30"))
    assert "Timers left on" not in words(lead_client.get("/hours/"))
    assert post(lead_client, f"/hours/{entry.pk}/answer/", when="end").status_code == 422


def test_what_was_stopped_and_questioned_is_on_the_leads_list(
    lead_client: Client, clock: Clock, cutting: Operation
) -> None:
    mara = cast.person("Mara")
    entry = start(cutting, mara, by=Actor(person=mara), at=at(2, "15:00"))
    other = cast.operation_of(cast.make_panel(cutting.job, 2), "Cutting")
    start(other, mara, by=Actor(person=mara), at=at(3, "08:00"), late=True)
    clock.time = at(3, "09:00")
    page = words(lead_client.get("/hours/"))
    assert "Stopped Mon 2 Mar, 16:30" in page
    assert "not answered" in page
    post(lead_client, f"/hours/{entry.pk}/answer/", when="typed", day="2026-03-02", time="16:00")
    assert TimeEntry.objects.counted().get().minutes == 60


def test_the_lead_corrects_any_day(lead_client: Client, clock: Clock, cutting: Operation) -> None:
    entry = log(cutting, "Mara", 3, "08:00", "10:00")
    clock.time = at(25, "12:00")
    page = words(lead_client.get(f"/hours/?day=2026-03-03&change={entry.pk}"))
    assert "Correct it" in page
    typed = {"day": "2026-03-03", "start": "08:00", "stop": "11:00", "reason": "sheet of paper"}
    response = post(lead_client, f"/hours/{entry.pk}/correct/", **typed)
    assert (response.status_code, response.url) == (303, "/hours/?day=2026-03-03")
    made = TimeEntry.objects.valid().get()
    assert made.minutes == 180
    assert post(lead_client, f"/hours/{made.pk}/take-back/", reason="twice").status_code == 303
    assert "not counted: twice" in words(lead_client.get("/hours/?day=2026-03-03"))
