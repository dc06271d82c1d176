"""Lists on paper: a bench's work, the week for the wall, what is bought, and all papers of a job."""

import re
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor, bench
from jobs.actions.holds import hold
from jobs.documents.lists import ranges
from jobs.models import ClosedDay, Glass, Job, Need, Operation, Panel, Projection, Stage, Station, Supplier
from jobs.models.bench import read_bench, read_whole_bench
from jobs.models.floor import read_floor
from jobs.models.standing import read_standing
from jobs.models.studios import Studio
from jobs.models.wall import read_wall
from tests import cast
from tests.cast import at
from tests.documents import tags
from tests.pages.plans import load, plan, settle

# Tuesday, 3 March 2026.
NOW = at(3, "10:00")
CUTTING = reverse("paper-bench", args=["cutting"])
WEEK = reverse("paper-week")
SHOP = reverse("paper-purchases")
OF_JOB = reverse("paper-job-purchases", args=["0412"])


@pytest.fixture(autouse=True)
def tuesday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    settle(at(3, "09:45"))


@pytest.fixture
def panels() -> list[Panel]:
    """Three lights at the cutting bench; the plan cuts the second first, then the third, then the first."""
    job = cast.make_job()
    found = [cast.make_panel(job, number) for number in (1, 2, 3)]
    for rank, number in enumerate((2, 3, 1)):
        begin, end = at(3 + rank, "10:00"), at(3 + rank, "12:00")
        plan(cast.operation_of(found[number - 1], "Cutting"), begin, end, rank)
    return found


def made(client: Client, address: str) -> bytes:
    answer = client.get(address)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return bytes(answer.content)


def shown(client: Client, address: str, **extra: Any) -> str:
    html = client.get(address, **extra).content.decode()
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_a_bench_list_stands_in_the_order_of_its_page(panels: list[Panel], lead_client: Client) -> None:
    mara = cast.person("Mara")
    lead_client.post("/bench/cutting/person/", {"person": mara.pk})
    page = shown(lead_client, "/bench/cutting/")
    paper = tags.text(made(lead_client, f"{CUTTING}?person={mara.pk}"))
    codes = re.compile(r"0412/\d")
    order = list(dict.fromkeys(codes.findall(page)))
    assert order == ["0412/2", "0412/3", "0412/1"]
    assert list(dict.fromkeys(codes.findall(paper))) == order
    assert "Cutting: Mara Lind" in paper
    assert f"{CUTTING}?person={mara.pk}" in lead_client.get("/bench/cutting/").content.decode()


def test_its_pieces_and_hours_are_those_of_the_floor(panels: list[Panel], office_client: Client) -> None:
    cutting = cast.operation_of(panels[1], "Cutting")
    bench.start(cutting, cast.person("Mara"), by=Actor(), at=at(3, "09:00"))
    Operation.objects.filter(pk=cutting.pk).update(quantity_done=4)
    studio, station = Studio.current(), Station.objects.get(slug="cutting")
    listed = read_whole_bench(station, NOW, studio, 24)
    standing = read_standing(NOW, studio)
    hours = {work.pk: work.left for work in standing.at_station(station.pk)}
    assert {work.operation.pk: work.minutes_left for work in [*listed.current, *listed.following]} == hours
    paper = tags.text(made(office_client, CUTTING))
    # Six of ten pieces of 1:30 are left; of the others all.
    assert "6 of 10 0:54" in paper
    assert paper.count("10 of 10 1:30") == 2
    assert paper.index("On the bench") < paper.index("0412/2") < paper.index("Next, in this order")
    row = next(row for row in read_floor(standing, settle(NOW), studio).stations if row.station == station)
    assert row.left == 54 + 90 + 90


def test_what_waits_and_what_is_held_say_for_what(panels: list[Panel], tablet_client: Client) -> None:
    hold(cast.operation_of(panels[0], "Cutting"), "Came missing", by=Actor(), at=NOW)
    assert "Came missing" in tags.text(made(tablet_client, CUTTING))
    assert "after Cutting" in tags.text(made(tablet_client, reverse("paper-bench", args=["beveling"])))


def test_a_long_list_says_how_much_more_there_is(panels: list[Panel]) -> None:
    station, mara = Station.objects.get(slug="cutting"), cast.person("Mara")
    whole = read_whole_bench(station, NOW, Studio.current(), 2)
    assert (len(whole.following), whole.more) == (2, 1)
    own = read_bench(station, mara, NOW, Studio.current(), 1)
    assert (len(own.following), own.more) == (1, 1)


def test_an_empty_bench_and_one_that_is_not_there(office_client: Client) -> None:
    data = made(office_client, reverse("paper-bench", args=["blasting"]))
    assert "Nothing is ready here" in tags.text(data)
    assert office_client.get(reverse("paper-bench", args=["nowhere"])).status_code == 404
    # Somebody who is not there: the list of the whole bench.
    assert "Cutting" in tags.text(made(office_client, f"{CUTTING}?person=999999"))


def test_the_week_has_the_planned_days_and_the_hours_of_the_floor(
    panels: list[Panel], office_client: Client
) -> None:
    load(Station.objects.get(slug="cutting"), date(2026, 3, 2), 31, 24)
    beveling = cast.operation_of(panels[0], "Beveling")
    Operation.objects.filter(pk=beveling.pk).update(started_at=at(2), finished_at=at(2, "15:00"))
    wall = read_wall(NOW, Studio.current())
    assert [day.day for day in wall.days] == [2, 3, 4, 5, 6]
    cutting, bevel = wall.rows[0], wall.rows[1]
    assert [[job.panels for job in jobs] for jobs in cutting.days] == [[], [[2]], [[3]], [[1]], []]
    assert [[job.done for job in jobs] for jobs in bevel.days] == [[[1]], [], [], [], []]
    data = made(office_client, WEEK)
    paper = tags.text(data)
    assert "31 of 24 h, 7 over" in paper
    assert "31 of 24 h, 7 over" in shown(office_client, "/").replace(" , ", ", ")
    assert "0412 ✓ 1" in paper
    assert tags.sizes_mm(data) == {(279.4, 215.9)}


def test_job_numbers_on_the_wall_are_large(panels: list[Panel], office_client: Client) -> None:
    sizes: dict[str, float] = {}

    def see(text: str, cm: Any, tm: Any, font: Any, size: float) -> None:
        if text.strip():
            sizes[text.strip()] = max(sizes.get(text.strip(), 0), abs(size * tm[0] * cm[0]))

    for page in tags.read(made(office_client, WEEK)).pages:
        page.extract_text(visitor_text=see)
    # Read from two meters, in points: common practice, no published source.
    assert max(size for text, size in sizes.items() if "0412" in text) >= 24


def test_the_week_leaves_out_closed_days_and_shows_a_saturday_that_is_worked(panels: list[Panel]) -> None:
    ClosedDay.objects.create(day=date(2026, 3, 4))
    Projection.objects.all().delete()
    plan(cast.operation_of(panels[0], "Cutting"), at(3, "15:00"), at(7, "09:00"))
    wall = read_wall(NOW, Studio.current())
    assert [day.day for day in wall.days] == [2, 3, 4, 5, 6, 7]
    assert [len(jobs) for jobs in wall.rows[0].days] == [0, 1, 0, 1, 1, 1]


def test_ranges() -> None:
    assert ranges([1, 2, 3, 5, 7, 8]) == "1–3, 5, 7–8"
    assert ranges([]) == ""


@pytest.fixture
def needs(panels: list[Panel]) -> list[Need]:
    cast.make_glass()
    job, north = panels[0].job, Supplier.objects.create(name="Northgate Glass", days=10)
    first = job.needs.create(
        glass=Glass.objects.get(name="Red"), amount=Decimal("1.5"), unit="m²", price=Decimal(80), gate="glass"
    )
    second = job.needs.create(glass=Glass.objects.get(name="Blue"), amount=2, unit="m²", supplier=north)
    return [first, second]


def test_the_purchase_list_says_what_its_page_says(needs: list[Need], office_client: Client) -> None:
    page, paper = (
        shown(office_client, reverse("job-materials", args=["0412"])),
        tags.text(made(office_client, OF_JOB)),
    )
    for said in (
        "Red",
        "16.15 sq ft",
        "120.00",
        "no price yet",
        "Northgate Glass",
        "All together 120.00 EUR",
    ):
        assert said in page
        assert said in paper
    [day] = re.findall(r"needed by (\w+ \d+ \w+)", page)[:1]
    assert day in paper
    whole = tags.text(made(office_client, SHOP))
    assert "0412" in whole
    assert day in whole


def test_what_is_ordered_in_one_go_stands_together(needs: list[Need], office_client: Client) -> None:
    Need.objects.update(supplier=needs[1].supplier)
    blue = Glass.objects.get(name="Blue")
    cast.make_job("0500", "Stair window").needs.create(
        glass=blue, amount=1, unit="m²", supplier=needs[1].supplier
    )
    paper = tags.text(made(office_client, SHOP))
    # One heading for the two glasses of one job, and one for the other job.
    assert paper.count("Northgate Glass:") == 2
    first = paper[paper.index("0412, Northgate Glass:") :].partition("0500, Northgate Glass:")[0]
    assert "Red" in first
    assert "Blue" in first
    assert paper.count("☐") == 3


def test_the_list_of_the_shop_is_narrowed_down_as_its_page(needs: list[Need], office_client: Client) -> None:
    asked = f"?supplier={needs[1].supplier_id}"
    assert f"{SHOP}{asked}" in office_client.get(f"/materials/{asked}").content.decode()
    paper = tags.text(made(office_client, f"{SHOP}{asked}"))
    assert "Blue" in paper
    assert "Red" not in paper
    Job.objects.update(stage=Stage.CANCELLED, closed_at=NOW)
    assert "Nothing is to be bought." in tags.text(made(office_client, SHOP))


@pytest.mark.parametrize(
    ("address", "title"),
    [
        (CUTTING, "Bench list Cutting"),
        (WEEK, "The week of 2026-03-02"),
        (SHOP, "Purchase list"),
        (OF_JOB, "Purchase list 0412"),
    ],
)
def test_they_are_tagged_on_either_paper_and_only_read(
    needs: list[Need], office_client: Client, address: str, title: str
) -> None:
    tags.assert_tagged(made(office_client, address), title)
    Studio.objects.update(paper="letter")
    assert {max(size) for size in tags.sizes_mm(made(office_client, address))} == {279.4}
    assert office_client.post(address).status_code == 405
