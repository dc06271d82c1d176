"""The record: hours, margins, what stood out, what broke."""

import csv
import io
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.operations import change_estimate
from jobs.models import (
    Account,
    Breakage,
    Came,
    Job,
    Material,
    Need,
    Operation,
    OperationKind,
    Panel,
    Person,
    Quote,
    Route,
    TimeEntry,
)
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = cast.at(27)
PATHS = ("/records/", "/records/margins/", "/records/outliers/", "/records/breakage/")


@pytest.fixture(autouse=True)
def friday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)


def work(operation: Operation, minutes: int, when: datetime, who: str = "Jonas", note: str = "") -> None:
    """Somebody worked so long on it from then on, and it is finished."""
    stop = when + timedelta(minutes=minutes)
    TimeEntry.objects.create(
        person=cast.person(who),
        operation=operation,
        started_at=when,
        stopped_at=stop,
        minutes=minutes,
        note=note,
    )
    Operation.objects.filter(pk=operation.pk).update(started_at=when, finished_at=stop)


def window(number: str, cutting: int, assembly: int, day: int = 9, **values: Any) -> Panel:
    """A panel that was estimated 1:30 of cutting and 4:00 of assembly, and took so many minutes of each."""
    panel = cast.make_panel(cast.make_job(number), kinds=("Cutting", "Assembly"), **values)
    work(cast.operation_of(panel, "Cutting"), cutting, cast.at(day))
    work(cast.operation_of(panel, "Assembly"), assembly, cast.at(day + 1))
    return panel


def table(client: Client, address: str) -> list[dict[str, str]]:
    """A CSV of the record as rows by the words of its head."""
    answer = client.get(address)
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert "attachment" in answer["Content-Disposition"]
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def lines(client: Client, address: str) -> dict[str, tuple[int, int, int]]:
    """What the page of hours says: estimated, actual and again, by what it is of."""
    rows = client.get(address).context["rows"]
    return {row["line"].words: (row["line"].estimated, row["line"].actual, row["line"].again) for row in rows}


@pytest.mark.parametrize("address", PATHS)
def test_there_is_nothing_yet(office_client: Client, address: str) -> None:
    answer = office_client.get(address)
    assert answer.status_code == 200
    assert 'class="empty"' in answer.content.decode()


def test_hours_by_kind(office_client: Client) -> None:
    window("0501", 100, 200)
    window("0502", 80, 300)
    assert lines(office_client, "/records/") == {"Cutting": (180, 180, 0), "Assembly": (480, 500, 0)}
    html = office_client.get("/records/").content.decode()
    assert "× 1.04" in html  # 500 of 480.
    total = office_client.get("/records/").context["total"]
    assert (total.works, total.estimated, total.actual) == (4, 660, 680)


@pytest.mark.parametrize(
    ("by", "expected"),
    [
        ("panel", {"0501/1": (330, 300, 0), "0502/1": (330, 380, 0)}),
        ("job", {"0501": (330, 300, 0), "0502": (330, 380, 0)}),
        ("route", {"Beveled window": (330, 300, 0), "no route": (330, 380, 0)}),
        ("month", {"2026-02": (330, 380, 0), "2026-03": (330, 300, 0)}),
    ],
)
def test_hours_by_everything_else(office_client: Client, by: str, expected: dict[str, Any]) -> None:
    window("0501", 100, 200, route=Route.objects.get())
    other = window("0502", 80, 300)
    for row in Operation.objects.filter(panel=other):
        Operation.objects.filter(pk=row.pk).update(finished_at=cast.at(20, month=2))
    assert lines(office_client, f"/records/?by={by}") == expected


def test_a_month_is_the_studio_s_own(office_client: Client) -> None:
    panel = window("0501", 100, 200)
    # Half past midnight in Vienna is still the day, and the month, before in UTC.
    Operation.objects.filter(panel=panel).update(finished_at=cast.at(1, "00:30"))
    assert list(lines(office_client, "/records/?by=month")) == ["2026-03"]
    assert lines(office_client, "/records/?by=kind&first=2026-03-01")
    assert not lines(office_client, "/records/?by=kind&last=2026-02-28")


def test_a_crew_of_two_counts_twice(office_client: Client) -> None:
    job = cast.make_job("0501")
    row = Operation.objects.create(job=job, kind=OperationKind.objects.get(name="Delivery"), estimate=60)
    work(row, 50, cast.at(9), "Jonas")
    work(row, 55, cast.at(9), "Mara")
    assert lines(office_client, "/records/") == {"Delivery": (120, 105, 0)}


def test_what_was_done_again_stands_by_itself(office_client: Client) -> None:
    panel = window("0501", 100, 200)
    cutting = cast.operation_of(panel, "Cutting")
    broke = Breakage.objects.create(operation=cutting, pieces=1, at=cast.at(9))
    again = Operation.objects.create(
        job=panel.job, panel=panel, kind=cutting.kind, estimate=9, breakage=broke
    )
    work(again, 20, cast.at(11))
    assert lines(office_client, "/records/")["Cutting"] == (90, 100, 20)


def test_only_finished_work_with_hours_counts(office_client: Client) -> None:
    window("0501", 100, 200)
    open_one = window("0502", 100, 200)
    Operation.objects.filter(panel=open_one).update(finished_at=None)
    silent = window("0503", 100, 200)
    TimeEntry.objects.filter(operation__panel=silent).update(questioned=True)
    skipped = window("0504", 100, 200)
    Operation.objects.filter(panel=skipped).update(skipped=True)
    assert lines(office_client, "/records/?by=job") == {"0501": (330, 300, 0)}


@pytest.mark.parametrize(
    ("asked", "jobs"),
    [
        ("", {"0501", "0502"}),
        ("&first=2026-03-10", {"0502"}),
        ("&last=2026-03-04", {"0501"}),
        ("&first=2026-03-03&last=2026-03-03", {"0501"}),
        ("&job=0502", {"0502"}),
    ],
)
def test_filters_of_days_and_jobs(office_client: Client, asked: str, jobs: set[str]) -> None:
    window("0501", 100, 200, day=3)
    window("0502", 80, 300, day=16)
    assert set(lines(office_client, f"/records/?by=job{asked}")) == jobs


def test_filters_of_kinds_and_routes(office_client: Client) -> None:
    route = Route.objects.get()
    window("0501", 100, 200, route=route)
    window("0502", 80, 300)
    assert lines(office_client, "/records/?by=job&kind=cutting") == {
        "0501": (90, 100, 0),
        "0502": (90, 80, 0),
    }
    assert set(lines(office_client, f"/records/?by=job&route={route.pk}")) == {"0501"}


def test_without_a_word_it_is_the_last_year(office_client: Client) -> None:
    panel = window("0501", 100, 200)
    Operation.objects.filter(panel=panel).update(finished_at=cast.at(20, year=2025))
    assert not lines(office_client, "/records/")
    assert lines(office_client, "/records/?first=")


@pytest.mark.parametrize("address", PATHS)
@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("first=yesterday", "Enter a valid date"),
        ("first=2026-03-09&last=2026-03-02", "The last day comes before the first."),
        ("route=999999", "Select a valid choice"),
    ],
)
def test_what_cannot_be_asked_is_said(office_client: Client, address: str, asked: str, words: str) -> None:
    answer = office_client.get(f"{address}?{asked}&csv=1")
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_hours_as_a_file(office_client: Client) -> None:
    window("0501", 100, 200)
    assert table(office_client, "/records/?csv=1") == [
        {
            "Kind of work": kind,
            "what": "",
            "works": "1",
            "estimated h": estimated,
            "actual h": actual,
            "actual / estimated": ratio,
            "again h": "0.00",
        }
        for kind, estimated, actual, ratio in (
            ("Cutting", "1.50", "1.67", "1.111"),
            ("Assembly", "4.00", "3.33", "0.833"),
        )
    ]


def test_a_file_has_all_rows_and_a_page_fifty(office_client: Client) -> None:
    for number in range(52):
        window(f"{600 + number}", 90, 240)
    assert len(table(office_client, "/records/?by=job&csv=1")) == 52
    assert len(lines(office_client, "/records/?by=job")) == 50
    html = office_client.get("/records/?by=job").content.decode()
    assert 'href="?by=job&amp;page=2"' in html
    assert len(lines(office_client, "/records/?by=job&page=2")) == 2


def test_no_title_becomes_a_formula(office_client: Client) -> None:
    panel = window("0501", 100, 200)
    Job.objects.filter(pk=panel.job_id).update(title="=HYPERLINK(1)")
    assert table(office_client, "/records/?by=job&csv=1")[0]["what"] == "'=HYPERLINK(1)"


def complete(number: str, price: str | None, by: Account, *, labor: int = 600) -> Job:
    """A complete job: hours at 30, two sticks of came at 7, a lamination at 120; the price by its quote."""
    panel = cast.make_panel(
        cast.make_job(number, stage="complete", closed_at=cast.at(20)), kinds=("Assembly", "Lamination")
    )
    work(cast.operation_of(panel, "Assembly"), labor, cast.at(9))
    job = panel.job
    came = Came.objects.get_or_create(profile="H 6 mm")[0]
    outside = cast.operation_of(panel, "Lamination")
    Need.objects.create(job=job, came=came, amount=2, unit="stick", price=7)
    Need.objects.create(job=job, outside=outside, amount=1, unit="piece", price=120)
    if price is not None:
        Quote.objects.create(
            job=job,
            version=1,
            state="accepted",
            made_at=cast.at(2),
            made_by=by,
            sent_at=cast.at(2),
            sent_by=by,
            answered_at=cast.at(3),
            answered_by=by,
            valid_until=cast.at(30).date(),
            frozen={},
            net=Decimal(price),
            total=Decimal(price),
        )
    return job


def test_the_lead_sees_what_a_job_earned(lead_client: Client, office: Account) -> None:
    complete("0501", "1000", office)
    row = lead_client.get("/records/margins/").context["rows"][0]
    # Ten hours at 30, two sticks at 7, the lamination: 1000 - 300 - 14 - 120.
    assert (row.price, row.labor, row.materials, row.outside) == (1000, 300, 14, 120)
    assert (row.margin, row.share) == (566, pytest.approx(0.566))
    html = lead_client.get("/records/margins/").content.decode()
    assert "566.00" in html
    bar = row.bar()
    assert (bar["labor"], bar["materials_at"], bar["materials"], bar["outside_at"]) == (300, 300, 14, 314)


def test_a_loss_is_said(lead_client: Client, office: Account) -> None:
    complete("0501", "300", office)
    html = lead_client.get("/records/margins/").content.decode()
    assert '<strong class="late">-134.00</strong>' in html
    bar = lead_client.get("/records/margins/").context["rows"][0].bar()
    assert bar["labor"] == 1000  # What goes over the price is cut.
    assert bar["outside"] == 0


def test_the_office_sees_no_pay_and_no_margin(office_client: Client, office: Account) -> None:
    Person.objects.update(hourly_cost=Decimal("31.37"))
    complete("0501", "1000", office, labor=6000)
    html = office_client.get("/records/margins/").content.decode()
    assert "1,000.00" in html
    assert "100:00" in html
    # A hundred hours at 31.37.
    for text in (html, str(table(office_client, "/records/margins/?csv=1"))):
        assert "3,137" not in text
        assert "3137" not in text
        assert "abor" not in text.split("<main")[-1]
    row = office_client.get("/records/margins/").context["rows"][0]
    assert (row.labor, row.margin, row.share, row.bar()) == (None, None, None, None)


def test_a_job_without_a_quote_has_no_margin(lead_client: Client, office: Account) -> None:
    complete("0501", None, office)
    row = lead_client.get("/records/margins/").context["rows"][0]
    assert (row.price, row.margin, row.share) == (None, None, None)
    assert "no quote" in lead_client.get("/records/margins/").content.decode()


def test_margins_are_of_complete_jobs_alone(lead_client: Client, office: Account) -> None:
    complete("0501", "1000", office)
    other = complete("0502", "1000", office)
    Job.objects.filter(pk=other.pk).update(stage="ordered", closed_at=None)
    assert [row.job.number for row in lead_client.get("/records/margins/").context["rows"]] == ["0501"]
    assert not lead_client.get("/records/margins/?first=2026-03-21").context["rows"]
    assert not lead_client.get("/records/margins/?job=0502").context["rows"]


def test_margins_by_route(lead_client: Client, office: Account) -> None:
    route = Route.objects.get()
    job = complete("0501", "1000", office)
    complete("0502", "1000", office)
    cast.make_panel(job, 2)
    Panel.objects.filter(job=job).update(route=route)
    rows = lead_client.get(f"/records/margins/?route={route.pk}").context["rows"]
    assert [(row.job.number, row.spent) for row in rows] == [("0501", 600)]


def test_margins_as_a_file(lead_client: Client, office: Account) -> None:
    complete("0501", "1000", office)
    row = table(lead_client, "/records/margins/?csv=1")[0]
    assert (row["job"], row["closed"], row["hours"]) == ("0501", "2026-03-20", "10.00")
    assert (row["labor at cost"], row["margin"], row["margin share"]) == ("300.00", "566.00", "0.566")


def test_what_stood_out_with_its_notes(office_client: Client, office: Account) -> None:
    for number in range(20):
        window(f"{600 + number}", 90, 240)
    panel = window("0700", 90, 240)
    slow = cast.operation_of(panel, "Cutting")
    Operation.objects.filter(pk=slow.pk).update(finished_at=None)
    by = Actor(account=office)
    change_estimate(slow, 100, why="Harder glass", by=by, at=cast.at(9))
    work(slow, 700, cast.at(11), "Mara", note="the cutter was dull")
    Breakage.objects.create(operation=slow, pieces=2, at=cast.at(11), note="fell")
    answer = office_client.get("/records/outliers/")
    rows = answer.context["rows"]
    assert [row.operation.pk for row in rows] == [slow.pk]
    assert rows[0].notes == [
        "Mara Lind: the cutter was dull",
        "2 broken: fell",
        "estimated anew Mon 9 Mar: Harder glass",
    ]
    html = answer.content.decode()
    assert "the cutter was dull" in html
    assert "× 7.90" in html  # 90 and 700 of 100 minutes.
    row = table(office_client, "/records/outliers/?csv=1")[0]
    assert (row["panel"], row["work"], row["actual / estimated"]) == ("0700/1", "Cutting", "7.900")
    assert "2 broken: fell" in row["notes"]


def test_what_was_quick_stands_out_as_well(office_client: Client) -> None:
    for number in range(20):
        window(f"{600 + number}", 90, 240)
    quick = window("0700", 5, 240)
    rows = office_client.get("/records/outliers/").context["rows"]
    assert [row.operation.panel_id for row in rows] == [quick.pk]


def test_breakage_by_kind(office_client: Client) -> None:
    for number in range(10):
        window(f"{600 + number}", 90, 240)
    panel = Panel.objects.get(job__number="600")
    cutting = cast.operation_of(panel, "Cutting")
    broke = Breakage.objects.create(operation=cutting, pieces=3, at=cast.at(9))
    Breakage.objects.create(operation=cutting, pieces=1, at=cast.at(9))
    Breakage.objects.create(operation=cast.operation_of(panel, "Assembly"), pieces=2, at=cast.at(9))
    again = Operation.objects.create(
        job=panel.job, panel=panel, kind=cutting.kind, estimate=9, quantity=3, breakage=broke
    )
    work(again, 30, cast.at(11))
    rows = {row.kind: row for row in office_client.get("/records/breakage/").context["rows"]}
    assert (rows["Cutting"].broken, rows["Cutting"].times, rows["Cutting"].worked) == (4, 2, 100)
    assert rows["Cutting"].again == 30
    # Wilson's interval of 4 in 100 at 95 %: 0.0157 to 0.0984 (Wilson 1927, worked by hand).
    share = rows["Cutting"].share
    assert share is not None
    assert (share.share, share.low, share.high) == pytest.approx((0.04, 0.0157, 0.0984), abs=1e-4)
    # Assembly is not counted by the piece: the pieces of its panels are.
    assert (rows["Assembly"].broken, rows["Assembly"].worked) == (2, 100)
    html = office_client.get("/records/breakage/").content.decode()
    assert "4.00\xa0%" in html
    assert "1.57\xa0% to 9.84\xa0%" in html
    found = table(office_client, "/records/breakage/?csv=1")[0]
    assert (found["work"], found["pieces broken"], found["again h"]) == ("Cutting", "4", "0.50")


def test_copies_are_pieces_as_well(office_client: Client) -> None:
    panel = window("0600", 90, 240, copies=3)
    Breakage.objects.create(operation=cast.operation_of(panel, "Assembly"), pieces=1, at=cast.at(9))
    rows = {row.kind: row for row in office_client.get("/records/breakage/").context["rows"]}
    assert rows["Assembly"].worked == 30


def test_breakage_before_anything_is_finished(office_client: Client) -> None:
    panel = cast.make_panel(cast.make_job())
    Breakage.objects.create(operation=cast.operation_of(panel, "Cutting"), pieces=1, at=cast.at(9))
    answer = office_client.get("/records/breakage/")
    assert [(row.kind, row.share) for row in answer.context["rows"]] == [("Cutting", None)]
    assert answer.status_code == 200


@pytest.mark.parametrize(
    "address", [*PATHS, "/records/?by=panel", "/records/?by=job", "/records/margins/?csv=1"]
)
def test_the_number_of_queries_does_not_grow(
    lead_client: Client, office: Account, address: str, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def more(first: int, last: int) -> None:
        for number in range(first, last):
            job = complete(f"{number:04}", "1000", office)
            panel = window(f"{number + 1000:04}", 5 if number % 9 == 0 else 90, 240)
            Breakage.objects.create(operation=cast.operation_of(panel, "Cutting"), pieces=1, at=cast.at(9))
            Need.objects.create(
                job=job,
                material=Material.objects.get_or_create(name="Solder")[0],
                amount=1,
                unit="kg",
                price=30,
            )

    more(500, 520)
    with CaptureQueriesContext(connection) as few:
        lead_client.get(address)
    more(600, 640)
    with django_assert_num_queries(len(few)):
        lead_client.get(address)


@pytest.mark.parametrize("address", PATHS)
def test_who_and_how(office_client: Client, tablet_client: Client, client: Client, address: str) -> None:
    assert tablet_client.get(address).status_code == 403
    assert client.get(address).status_code == 302
    assert office_client.post(address).status_code == 405
    html = office_client.get(address).content.decode()
    assert 'aria-current="page">Records' in html
