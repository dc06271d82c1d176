"""What is answered: the rows, in pages, with what was asked for alone, and without what is nobody's to read."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.actions import Actor, customers, people
from jobs.actions.bench import start
from jobs.actions.hours import log_span
from jobs.actions.plan import replan
from jobs.actions.promises import give_promise
from jobs.api.service import description
from jobs.models import Account, Event, Job, Operation, Panel, Person, Promise, Station, TimeEntry
from tests import cast
from tests.api.conftest import Ask
from tests.cast import at


@pytest.fixture
def panel(shop: None) -> Panel:
    return cast.make_panel(cast.make_job("0412", entered_at=at(2)))


def by(account: Account) -> Actor:
    return Actor(account=account)


def test_a_job_and_its_panel(ask: Ask, panel: Panel, lead: Account) -> None:
    Promise.objects.create(
        job=panel.job, day=date(2026, 5, 2), given_at=at(2), given_by=lead, told="Anna Berg"
    )
    page = ask("jobs").json()
    [job] = page["items"]
    assert (job["id"], job["number"], job["stage"], job["promised"]) == (
        panel.job.pk,
        "0412",
        "ordered",
        "2026-05-02",
    )
    assert page["next"] is None
    assert page["event"] == Event.objects.newest()
    assert ask(f"jobs/{panel.job.pk}").json() == job
    [shown] = ask("panels").json()["items"]
    assert (shown["job_id"], shown["width_mm"], shown["pieces"]) == (panel.job.pk, 600.0, 10)
    assert ask(f"panels/{panel.pk}").json() == shown
    assert ask("jobs/999999").status_code == ask("panels/999999").status_code == 404


def test_work_with_estimated_and_actual_minutes_and_its_state(ask: Ask, panel: Panel, lead: Account) -> None:
    cutting = cast.operation_of(panel, "Cutting")
    log_span(cutting, cast.person("Mara"), at(2, "08:00"), at(2, "09:30"), by=by(lead), at=at(2, "10:00"))
    shown = {row["kind"]: row for row in ask("operations").json()["items"]}
    assert shown["Cutting"]["estimated_minutes"] == 90
    assert shown["Cutting"]["actual_minutes"] == 90
    assert shown["Beveling"]["state"] == "waiting"
    assert shown["Beveling"]["station_id"] == Station.objects.get(name="Beveling").pk
    waiting = ask("operations", state="waiting").json()["items"]
    assert {row["kind"] for row in waiting} == {"Beveling", "Assembly"}
    assert len(ask("operations", station=shown["Beveling"]["station_id"]).json()["items"]) == 1
    assert ask("operations", panel=panel.pk + 1).json()["items"] == []
    assert ask("operations", state="lost").status_code == 422


def test_a_station_tells_what_lies_there_and_what_comes(ask: Ask, panel: Panel) -> None:
    mara = cast.person("Mara")
    start(cast.operation_of(panel, "Cutting"), mara, by=Actor(person=mara), at=timezone.now())
    cast.make_panel(panel.job, 2)
    found = {row["name"]: row for row in ask("stations").json()["items"]}
    assert (found["Cutting"]["on_bench"], found["Cutting"]["ready"], found["Beveling"]["waiting"]) == (
        1,
        1,
        2,
    )
    queue = ask(f"stations/{found['Cutting']['id']}/queue").json()
    assert [row["keeper_id"] for row in queue["on_bench"]] == [mara.pk]
    assert [row["minutes_left"] for row in queue["ready"]] == [90]
    coming = ask(f"stations/{found['Beveling']['id']}/queue").json()["coming"]
    assert {row["waits_for"] for row in coming} == set(
        Operation.objects.filter(kind__name="Cutting").values_list("pk", flat=True)
    )
    assert ask("stations/99/queue").status_code == 404


def test_people_are_told_without_what_they_are_paid(
    ask: Ask, panel: Panel, office_token: str, lead: Account
) -> None:
    Person.objects.update(hourly_cost=Decimal("31.37"))
    people.set_pin(cast.person("Mara"), "4711", by=by(lead), at=at(2))
    answer = ask("people")
    mara = next(row for row in answer.json()["items"] if row["name"] == "Mara Lind")
    assert set(mara) == {"id", "name", "active", "skills"}
    assert {skill["pace"] for skill in mara["skills"]} == {1.0}
    paths = [path.removeprefix("/api/v1/") for path in description()["paths"] if "{" not in path]
    assert len(paths) > 7
    for path in paths:
        text = ask(path, shown=office_token).content.decode().lower()
        assert "31.37" not in text
        assert "cost" not in text
        assert '"pin"' not in text


def test_hours_are_those_asked_for(ask: Ask, panel: Panel, lead: Account) -> None:
    cutting, mara, ilse = cast.operation_of(panel, "Cutting"), cast.person("Mara"), cast.person("Ilse")
    for day, who in ((2, mara), (3, mara), (3, ilse)):
        TimeEntry.objects.create(
            person=who,
            operation=cutting,
            started_at=at(day, "00:30"),
            stopped_at=at(day, "01:30"),
            minutes=60,
        )
    TimeEntry.objects.filter(person=ilse).update(questioned=True)
    assert [row["counts"] for row in ask("hours").json()["items"]] == [True, True, False]
    assert {row["job_id"] for row in ask("hours", job=panel.job.pk).json()["items"]} == {panel.job.pk}
    assert len(ask("hours", person=mara.pk).json()["items"]) == 2
    # Half past midnight of the studio's 3rd is still the 2nd elsewhere.
    assert len(ask("hours", first="2026-03-03").json()["items"]) == 2
    assert len(ask("hours", first="2026-03-02", last="2026-03-02").json()["items"]) == 1


def test_promises_and_dates_with_their_chances(ask: Ask, panel: Panel, lead: Account) -> None:
    now = timezone.now()
    day = now.date() + timedelta(days=90)
    give_promise(panel.job, day, "Anna Berg", by=by(lead), at=now)
    replan(at=now)
    [promise] = ask("promises").json()["items"]
    assert (promise["job_id"], promise["day"]) == (panel.job.pk, day.isoformat())
    assert "Anna" not in str(promise)
    page = ask("dates").json()
    assert {(row["job_id"], row["panel_id"]) for row in page["items"]} == {
        (panel.job.pk, None),
        (None, panel.pk),
    }
    assert all(row["p50"] <= row["p80"] <= row["p95"] for row in page["items"])
    assert page["out_of_date"] is False
    assert ask("dates", job=panel.job.pk + 1).json()["items"] == []


def test_customers_are_told_to_a_token_of_the_office_alone(ask: Ask, panel: Panel, office_token: str) -> None:
    assert ask("customers").status_code == 403
    assert "Two Rivers" not in ask("jobs").content.decode()
    [customer] = ask("customers", shown=office_token).json()["items"]
    assert (customer["name"], customer["email"]) == ("Parish of the Two Rivers", "office@two-rivers.example")


def test_pages_follow_one_another_until_the_last(ask: Ask, shop: None) -> None:
    for number in range(5):
        cast.make_job(f"{number:04d}")
    seen, after = [], 0
    while after is not None:
        page = ask("jobs", limit=2, after=after).json()
        assert len(page["items"]) <= 2
        seen += [row["number"] for row in page["items"]]
        after = page["next"]
    assert seen == ["0000", "0001", "0002", "0003", "0004"]
    for wrong in (
        {"stages": "quoted"},
        {"limit": 0},
        {"limit": 501},
        {"after": -1},
        {"after": 2**63},
        {"limit": "x"},
    ):
        assert ask("jobs", **wrong).status_code == 422


@pytest.mark.parametrize("path", ["jobs", "panels", "operations", "hours", "people", "promises"])
def test_only_what_changed_since(ask: Ask, panel: Panel, lead: Account, path: str) -> None:
    other = cast.make_panel(cast.make_job("0413"))
    cutting, mara = cast.operation_of(panel, "Cutting"), cast.person("Mara")
    for each in (cutting, cast.operation_of(other, "Cutting")):
        each.entries.create(
            person=mara, operation=each, started_at=at(2, "08:00"), stopped_at=at(2, "09:00"), minutes=60
        )
    event = ask("jobs").json()["event"]
    assert ask(path, after_event=event).json()["items"] == []
    log_span(cutting, mara, at(3, "08:00"), at(3, "09:00"), by=by(lead), at=at(3, "10:00"))
    people.change_person(mara, {"name": "Mara Linde"}, by=by(lead), at=at(3, "10:00"))
    give_promise(panel.job, date(2030, 5, 3), "Anna", by=by(lead), at=at(3, "10:00"))
    for since in ({"after_event": event}, {"changed_since": "2026-03-03T08:00:00+01:00"}):
        rows = ask(path, **since).json()["items"]
        assert rows
        assert len(rows) < len(ask(path).json()["items"]) or path == "promises"
        assert {row.get("job_id", panel.job.pk) for row in rows} == {panel.job.pk}
    assert ask(path, changed_since="2026-03-03T12:00:00Z").json()["items"] == []


@pytest.mark.parametrize("since", ["yesterday", "2026-03-03", "1767225600", "2026-03-03T08:00:00", ""])
def test_a_time_has_its_offset(ask: Ask, since: str) -> None:
    assert ask("jobs", changed_since=since).status_code == 422


@pytest.mark.parametrize("since", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"])
def test_the_ends_of_time_break_nothing(ask: Ask, since: str) -> None:
    assert ask("jobs", changed_since=since).status_code == 200
    assert ask("hours", first="0001-01-01", last="9999-12-31").status_code == 200


def test_customers_that_changed(ask: Ask, panel: Panel, office_token: str, lead: Account) -> None:
    event = Event.objects.newest()
    assert ask("customers", shown=office_token, after_event=event).json()["items"] == []
    customers.change_customer(
        panel.job.customer, contact="", email="", phone="0", address="", notes="", by=by(lead), at=at(3)
    )
    assert len(ask("customers", shown=office_token, after_event=event).json()["items"]) == 1


LISTS = ["jobs", "panels", "operations", "stations", "people", "hours", "promises", "dates", "customers"]


@pytest.mark.parametrize("path", [*LISTS, "stations/{station}/queue"])
def test_a_page_takes_as_many_queries_however_long_it_is(
    ask: Ask, panel: Panel, office_token: str, lead: Account, path: str
) -> None:
    path = path.format(station=Station.objects.get(name="Cutting").pk)

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert ask(path, shown=office_token).status_code == 200
        return len(caught)

    one_of_each(panel, lead)
    ask(path, shown=office_token)
    few = queries()
    for number in range(500, 508):
        one_of_each(cast.make_panel(cast.make_job(str(number))), lead)
        Person.objects.create(name=f"Helper {number}")
    assert queries() == few <= 10


def one_of_each(panel: Panel, lead: Account) -> None:
    Promise.objects.create(job=panel.job, day=date(2026, 5, 2), given_at=at(2), given_by=lead, told="Anna")
    cutting = cast.operation_of(panel, "Cutting")
    cutting.entries.create(
        person=cast.person("Mara"),
        operation=cutting,
        started_at=at(2, "08:00"),
        stopped_at=at(2, "09:00"),
        minutes=60,
    )


def test_the_description_names_every_address_and_what_is_refused(ask: Ask, office_token: str) -> None:
    told: Any = ask("openapi.json").json()
    assert told["openapi"].startswith("3.")
    assert {path.removeprefix("/api/v1/") for path in told["paths"]} >= set(LISTS)
    for path, methods in told["paths"].items():
        assert list(methods) == ["get"]
        assert {"200", "401", "404", "422", "429"} <= set(methods["get"]["responses"]), path
        assert methods["get"]["security"]
    [scheme] = told["components"]["securitySchemes"].values()
    assert (scheme["type"], scheme["scheme"]) == ("http", "bearer")
    assert Job.objects.count() == 0


def test_no_page_of_documentation_is_served_that_fetches_from_elsewhere(client: Client, ask: Ask) -> None:
    assert ask("docs").status_code == 404
    assert b"http" not in ask("docs").content
