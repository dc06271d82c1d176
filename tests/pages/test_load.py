"""Load: the hours of stations and people week by week, and what would relieve the tightest."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from jobs.actions.plan import replan
from jobs.models import LoadWeek, PersonWeek, PlanState, Station
from jobs.views.date_load import Cell, Line, person_lines, relief, station_lines, tightest_later
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = datetime(2026, 3, 2, 8, tzinfo=ZoneInfo("Europe/Vienna"))
WEEKS = [date(2026, 3, 2), date(2026, 3, 9)]


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 50})


def overload() -> Station:
    """Five panels for the bevelers, due this week."""
    job = cast.make_job(wanted_by=date(2026, 3, 4))
    for number in range(1, 6):
        cast.make_panel(job, number=number, kinds=("Beveling",))
    replan(at=NOW, force=True)
    return Station.objects.get(name="Beveling")


def test_nothing_is_planned(office_client: Client) -> None:
    html = office_client.get("/dates/load/").content.decode()
    assert "No work is planned." in html


def test_the_tightest_is_named_and_its_hours_stand_in_the_table(office_client: Client) -> None:
    station = overload()
    html = office_client.get("/dates/load/").content.decode()
    assert "Beveling is the tightest now" in html
    load = LoadWeek.objects.get(station=station, week=WEEKS[0])
    assert load.work > 0
    cell = station_lines(PlanState.current(), WEEKS)[1].cells[0]
    assert (cell.work, cell.work_80, cell.capacity) == (load.work, load.work_80, load.capacity)
    assert ">2 Mar</th>" in html


def test_a_week_without_people_says_so(office_client: Client) -> None:
    from django.template.loader import render_to_string

    studio = cast.make_studio()
    shown = render_to_string("dates_load.html#cell", {"cell": Cell(WEEKS[0], 429, 429, 0), "studio": studio})
    assert "nobody is there" in shown
    assert "0:00" not in shown
    assert "full</span>" not in shown


def test_a_cell_is_full_from_nine_tenths() -> None:
    assert Cell(WEEKS[0], 90, 90, 100).full
    assert not Cell(WEEKS[0], 89, 100, 100).full
    assert Cell(WEEKS[0], 5, 5, 0).full
    assert not Cell(WEEKS[0], 0, 0, 0).full
    assert (Cell(WEEKS[0], 150, 200, 100).bar, Cell(WEEKS[0], 50, 75, 100).tick) == (100, 75)


def test_the_tightest_in_six_weeks() -> None:
    calm = [Cell(WEEKS[0], 90, 90, 100)] * 6 + [Cell(WEEKS[0], 10, 10, 100)] * 4
    busy = [Cell(WEEKS[0], 0, 0, 100)] * 6 + [Cell(WEEKS[0], 50, 60, 100)] * 4
    found = tightest_later([Line("calm", calm), Line("busy", busy)])
    assert found is not None
    assert found.name == "busy"
    assert tightest_later([Line("idle", [Cell(WEEKS[0], 0, 0, 100)] * 10)]) is None


def test_people_have_hours_with_their_spread() -> None:
    job = cast.make_job()
    cast.make_panel(job, kinds=("Assembly",))
    replan(at=NOW, force=True)
    kept = PersonWeek.objects.get()
    lines = {line.name: line.cells for line in person_lines(WEEKS)}
    # Jonas alone assembles; the other two have nothing to do. He is there forty hours a week.
    cell = lines["Jonas Beck"][0]
    assert (cell.work, cell.work_80, cell.capacity) == (kept.work, kept.work_80, 2400)
    assert 200 <= cell.work <= 280
    assert cell.work < cell.work_80 <= 400
    assert lines["Mara Lind"][0].work == 0


def test_the_hours_of_a_person_stand_in_the_table(office_client: Client) -> None:
    overload()
    kept = PersonWeek.objects.get(person=cast.person("Mara"), week=WEEKS[0])
    html = office_client.get("/dates/load/").content.decode()
    people = html[html.index("Load of people by week") :]
    assert f"of {kept.there // 60}:{kept.there % 60:02}" in people


def test_what_would_relieve_it() -> None:
    station = overload()
    tried = relief(station, NOW)
    assert [each.what for each in tried] == [
        "One more person at Beveling",
        "One more bench at Beveling",
        "Four Saturday mornings of those who work at Beveling",
    ]
    person, bench, _ = tried
    # Two people have two benches: a third bench alone changes nothing. A third person takes Ilse's, who is slower.
    assert (bench.earlier, bench.late_after) == (0, bench.late_before)
    assert person.late_after < person.late_before


def test_relief_is_a_part_and_a_page(office_client: Client) -> None:
    overload()
    part = office_client.get("/dates/load/?relief=1", headers={"HX-Request": "true"}).content.decode()
    assert part.lstrip().startswith('<div id="relief">')
    assert "One more person at Beveling" in part
    page = office_client.get("/dates/load/?relief=1").content.decode()
    assert "One more person at Beveling" in page
    assert "<html" in page


def test_who_and_how(tablet_client: Client, client: Client, office_client: Client) -> None:
    assert tablet_client.get("/dates/load/").status_code == 403
    assert client.get("/dates/load/").status_code == 302
    assert office_client.post("/dates/load/").status_code == 405
