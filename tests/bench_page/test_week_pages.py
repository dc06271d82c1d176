"""The week at a glance, the hours sheet, and a day that its person confirms at the bench."""

import csv
import io
import re

import pytest
from django.test import Client

from jobs.models import ClosedWeek, ConfirmedDay, Operation, Person, Studio, TimeEntry
from tests import cast
from tests.bench_page.test_bench import Clock, come, words
from tests.bench_page.test_bench import clock as clock
from tests.bench_page.test_hours_pages import MINE, log, post
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
WEEK, CLOSE, SHEET = "/hours/week/", "/hours/week/close/", "/hours/sheet/"


@pytest.fixture
def cutting() -> Operation:
    return cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")


@pytest.fixture
def entry(cutting: Operation) -> TimeEntry:
    return log(cutting, "Mara", 4, "08:00", "10:07")


def test_the_week_shows_hours_and_what_stands_out(
    lead_client: Client, clock: Clock, entry: TimeEntry
) -> None:
    clock.time = at(5, "07:30")
    page = words(lead_client.get(WEEK))
    for shown in ("Mara Lind", "2:07", "gap 5:53", "of 40:00", "It can be closed when it is over"):
        assert shown in page


def test_a_week_is_closed_on_its_page(lead_client: Client, clock: Clock, entry: TimeEntry) -> None:
    clock.time = at(9, "09:00")
    assert "Close the week" in words(lead_client.get(f"{WEEK}?day=2026-03-04"))
    answer = lead_client.post(CLOSE, {"day": "2026-03-04"})
    assert answer.status_code == 303
    assert ClosedWeek.objects.get().minutes == {str(entry.person_id): 127}
    assert "Closed " in words(lead_client.get(answer["Location"]))
    again = lead_client.post(CLOSE, {"day": "2026-03-04"})
    assert again.status_code == 422
    assert "closed already" in words(again)


def test_a_change_in_a_closed_week_asks_for_its_reason_beside_the_field(
    lead_client: Client, clock: Clock, entry: TimeEntry
) -> None:
    clock.time = at(9, "09:00")
    lead_client.post(CLOSE, {"day": "2026-03-02"})
    typed = {"day": "2026-03-04", "start": "08:00", "stop": "11:11", "reason": ""}
    refused = post(lead_client, f"/hours/{entry.pk}/correct/", **typed)
    assert refused.status_code == 422
    assert "say why it is changed" in words(refused)
    assert 'value="11:11"' in refused.content.decode()
    kept = post(lead_client, f"/hours/{entry.pk}/correct/", **typed | {"reason": "the tablet was flat"})
    assert kept.status_code == 303
    assert "1:04 more than at closing" in words(lead_client.get(f"{WEEK}?day=2026-03-02"))


def test_nonsense_in_the_address_shows_this_week(lead_client: Client, clock: Clock) -> None:
    clock.time = at(5, "07:30")
    assert "Mon 2 Mar to Sun 8 Mar" in words(lead_client.get(f"{WEEK}?day=soon"))
    assert "Mon 2 Mar to Sun 8 Mar" in words(lead_client.get(f"{WEEK}?day=9999-12-31"))
    assert lead_client.get(f"{SHEET}?person=999999").status_code == 404


def test_the_sheet_is_the_week_rounded_as_page_and_as_file(
    lead_client: Client, clock: Clock, entry: TimeEntry
) -> None:
    clock.time = at(5, "07:30")
    Studio.objects.update(rounding=15)
    assert "2:00" in words(lead_client.get(f"{SHEET}?person={entry.person_id}"))
    lines = list(csv.DictReader(io.StringIO(lead_client.get(f"{SHEET}?csv=1").content.decode("utf-8-sig"))))
    wednesday = [line for line in lines if line["person"] == "Mara Lind" and line["day"] == "2026-03-04"]
    assert wednesday == [
        {
            "person": "Mara Lind",
            "day": "2026-03-04",
            "hours": "2.12",
            "hours rounded": "2.00",
            "confirmed": "no",
        }
    ]


def test_a_person_confirms_a_day_at_the_bench(tablet_client: Client, clock: Clock, entry: TimeEntry) -> None:
    clock.time = at(4, "16:31")
    come(tablet_client, "Mara")
    page = words(tablet_client.get(MINE))
    for shown in ("Is your day right?", "nothing written down 10:07–12:00", "<strong>2:07</strong> of 40:00"):
        assert shown in page
    assert post(tablet_client, f"{MINE}confirm/", day="2026-03-04").status_code == 303
    assert ConfirmedDay.objects.get().minutes == 127
    assert re.search(r"\bconfirmed\b", words(tablet_client.get(MINE)))


def test_what_cannot_be_confirmed_is_said(tablet_client: Client, clock: Clock, entry: TimeEntry) -> None:
    clock.time = at(4, "16:31")
    come(tablet_client, "Mara")
    for day, sentence in (("2026-03-05", "still to come"), ("soon", "That is no day")):
        refused = post(tablet_client, f"{MINE}confirm/", day=day)
        assert refused.status_code == 422
        assert sentence in words(refused)


def test_nobody_confirms_without_a_name(tablet_client: Client, clock: Clock, entry: TimeEntry) -> None:
    clock.time = at(4, "16:31")
    answer = post(tablet_client, f"{MINE}confirm/", day="2026-03-04")
    assert (answer.status_code, answer["Location"]) == (303, "/bench/cutting/")
    assert not ConfirmedDay.objects.exists()


def test_a_person_sees_own_hours_only(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    log(cutting, "Jonas", 4, "08:00", "09:11")
    clock.time = at(4, "16:31")
    come(tablet_client, "Mara")
    page = words(tablet_client.get(MINE))
    assert "Jonas" not in page
    assert "1:11" not in page


def test_a_studio_without_people_is_told_where_to_write_them_down(lead_client: Client, clock: Clock) -> None:
    Person.objects.all().delete()
    clock.time = at(5, "07:30")
    answer = lead_client.get(WEEK)
    assert "Nobody works here yet" in words(answer)
    assert 'href="/set-up/people/"' in answer.content.decode()
