"""The weekly hours sheet as PDF: the page's figures, for the lead of everybody, for each person their own alone."""

import re

import pytest
from django.test import Client

from jobs.models import ClosedWeek, Operation, Person, Studio
from tests import cast
from tests.bench_page.test_bench import Clock, come
from tests.bench_page.test_bench import clock as clock
from tests.bench_page.test_hours_pages import MINE, log
from tests.cast import at
from tests.documents import tags

pytestmark = pytest.mark.usefixtures("shop")
SHEET, OWN = "/hours/sheet/?day=2026-03-02", f"{MINE}sheet/"
HOURS = re.compile(r"\b\d+:\d\d\b|\b\d+\.\d+ h\b")


@pytest.fixture
def week(clock: Clock) -> None:
    """Mara and Jonas on a Wednesday and a Thursday, looked at on the Friday."""
    cutting: Operation = cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")
    log(cutting, "Mara", 4, "08:00", "10:07")
    log(cutting, "Jonas", 4, "08:00", "09:11")
    log(cutting, "Mara", 5, "12:30", "16:03")
    clock.time = at(6, "07:30")


def paper(client: Client, address: str) -> bytes:
    answer = client.get(address)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return bytes(answer.content)


@pytest.mark.parametrize("style", ["clock", "decimal"])
def test_its_hours_are_the_pages(lead_client: Client, week: None, style: str) -> None:
    Studio.objects.update(rounding=15, hours=style)
    data = paper(lead_client, f"{SHEET}&pdf=1")
    tags.assert_tagged(data, "Hours, week of 2026-03-02")
    html = lead_client.get(SHEET).content.decode()
    table = html[html.index("<table") : html.index("</table>")]
    shown = HOURS.findall(re.sub(r"<[^>]+>", " ", table))
    words = tags.text(data)
    printed = HOURS.findall(words[words.index("Signature") : words.index("What your law")])
    assert printed == shown
    assert len(shown) > 10
    assert {"Mara Lind", "Jonas Beck", "Ilse Roth"} <= {
        p.name for p in Person.objects.all() if p.name in words
    }


def test_one_persons_holds_nobody_else(lead_client: Client, week: None) -> None:
    mara = cast.person("Mara")
    address = f"{SHEET}&person={mara.pk}"
    assert "&amp;pdf=1" in lead_client.get(address).content.decode()
    data = paper(lead_client, f"{address}&pdf=1")
    tags.assert_tagged(data, "Hours of Mara Lind, week of 2026-03-02")
    words = tags.text(data)
    assert "Hours of Mara Lind, 2 March 2026 to 8 March 2026" in words
    assert "Jonas" not in words
    assert "not closed yet" in words


def test_a_closed_week_says_so(lead_client: Client, week: None) -> None:
    ClosedWeek.objects.create(monday=at(2).date(), closed_at=at(9))
    assert "Closed Mon 9 Mar" in tags.text(paper(lead_client, f"{SHEET}&pdf=1"))


def test_a_person_takes_their_own_at_the_bench(tablet_client: Client, week: None) -> None:
    come(tablet_client, "Mara")
    assert OWN in tablet_client.get(MINE).content.decode()
    # Whatever is asked for, it is that of who tapped a name.
    jonas = cast.person("Jonas")
    words = tags.text(paper(tablet_client, f"{OWN}?person={jonas.pk}"))
    assert "Mara Lind" in words
    assert "2:07" in words
    assert not {"Jonas", "1:11"} & set(words.split())
    before = tags.text(paper(tablet_client, f"{OWN}?day=2026-02-24"))
    assert "23 February 2026 to 1 March 2026" in before
    assert tablet_client.get(OWN)["Cache-Control"] == "no-store"


def test_nobody_without_a_name_and_none_of_everybody(tablet_client: Client, week: None) -> None:
    answer = tablet_client.get(OWN)
    assert (answer.status_code, answer["Location"]) == (303, "/bench/cutting/")
    assert tablet_client.post(OWN).status_code == 405
    assert tablet_client.get(f"{SHEET}&pdf=1").status_code == 403


@pytest.mark.parametrize(("chosen", "size"), [("a4", (297.0, 210.0)), ("letter", (279.4, 215.9))])
def test_either_paper(lead_client: Client, week: None, chosen: str, size: tuple[float, float]) -> None:
    Studio.objects.update(paper=chosen)
    assert tags.sizes_mm(paper(lead_client, f"{SHEET}&pdf=1")) == {size}
