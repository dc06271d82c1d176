"""The pages of rates: what holds, what was learned, and the lead's decision."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from jobs import models
from jobs.estimating.takeoff import Takeoff
from jobs.models import KindSetup, Operation, OperationKind, Rate, Studio, TimeEntry
from jobs.views.csv_out import harmless
from jobs.views.rate_words import a, amount
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = cast.at(27)
TODAY = date(2026, 3, 27)


@pytest.fixture(autouse=True)
def friday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)


def history(panels: int = 12, *, taken_off: bool = True) -> None:
    """Cutting that takes 45 minutes and 10 a piece, where 45 and 6.3 are expected; from the day before the 27th on."""
    for number in range(panels):
        pieces = 10 + 5 * (number % 8)
        panel = cast.make_panel(cast.make_job(f"{500 + number:04}"), kinds=("Cutting",), pieces=pieces)
        if taken_off:
            numbers = Takeoff(width_mm=600.0, height_mm=900.0, pieces=pieces).to_json()
            models.Takeoff.objects.create(
                panel=panel, version=1, numbers=numbers, source="hand", at=cast.at(2)
            )
        minutes, start = 45 + 10 * pieces, cast.at(2)
        row = cast.operation_of(panel, "Cutting")
        stop = start + timedelta(minutes=minutes)
        TimeEntry.objects.create(
            person=cast.person("Jonas"), operation=row, started_at=start, stopped_at=stop, minutes=minutes
        )
        Operation.objects.filter(pk=row.pk).update(started_at=start, finished_at=stop)


def proposed(client: Client) -> list[str]:
    """What the form of the page of cutting would send, were everything ticked."""
    rows = client.get("/rates/cutting/").context["asked"]
    return [row.seen for row in rows]


def test_with_no_history_there_is_nothing_to_decide(office_client: Client) -> None:
    html = office_client.get("/rates/").content.decode()
    assert "Nothing: what was finished fits the rates" in html
    html = office_client.get("/rates/cutting/").content.decode()
    assert "These are the defaults" in html
    assert "Nothing of this kind is finished yet" in html


def test_the_lead_is_told_what_was_learned(lead_client: Client) -> None:
    history()
    html = lead_client.get("/rates/").content.decode()
    row = next(row for row in lead_client.get("/rates/cutting/").context["asked"] if row.driver == "piece")
    assert f'<span class="quiet-text">6.30</span> → <strong>{row.learned}</strong> min</span> a piece' in html
    assert "from 12 panels" in html
    assert "Accept" in html


def test_the_office_reads_and_decides_nothing(office_client: Client) -> None:
    history()
    for address in ("/rates/", "/rates/cutting/"):
        html = office_client.get(address).content.decode()
        assert "from 12 panels" in html
        assert "<button" not in html.split("<main")[1]
        assert "<form" in html  # Of signing out alone.


def test_accepted_rates_hold_from_today(lead_client: Client) -> None:
    history()
    data = {"rate": proposed(lead_client), "verb": "accept"}
    answer = lead_client.post("/rates/change/cutting/learned/", data, follow=True)
    assert "Cutting: the learned rates hold from today." in answer.content.decode()
    assert Rate.objects.get(driver="piece").since == TODAY
    html = lead_client.get("/rates/cutting/").content.decode()
    assert "learned from 12 finished" in html
    assert "These are the defaults" not in html


def test_what_is_left_is_not_asked_again(lead_client: Client) -> None:
    history()
    data = {"rate": proposed(lead_client), "verb": "leave"}
    answer = lead_client.post("/rates/change/cutting/learned/", data, follow=True)
    html = answer.content.decode()
    assert "Cutting: the present rates stay." in html
    assert "Nothing: what was finished fits the rates" in html
    assert not Rate.objects.exists()
    assert "left</span>" in lead_client.get("/rates/cutting/").content.decode()


def test_rates_learned_as_one_are_sent_as_one(lead_client: Client) -> None:
    history(taken_off=False)
    html = lead_client.get("/rates/").content.decode()
    assert "guessed from size and pieces, and all rates but the set-up move by one factor" in html
    data = {"rate": proposed(lead_client), "verb": "accept"}
    assert any(text.startswith("hard_piece|") for text in data["rate"])
    assert lead_client.post("/rates/change/cutting/learned/", data).status_code == 302
    assert set(Rate.objects.values_list("driver", flat=True)) == {
        "piece",
        "hard_piece",
        "curved_edge",
        "inner_corner",
    }


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"verb": "accept"}, "Choose at least one rate."),
        ({"verb": "accept", "rate": "piece|99"}, "More has been learned meanwhile"),
        ({"verb": "accept", "rate": "piece|much"}, "Choose among the rates that are shown."),
        ({"verb": "accept", "rate": "piece|NaN"}, "Choose among the rates that are shown."),
        ({"verb": "leave", "rate": "acre|1"}, "That rate is not there any more."),
    ],
)
def test_a_decision_that_cannot_be_is_refused(lead_client: Client, data: dict[str, Any], words: str) -> None:
    history()
    answer = lead_client.post("/rates/change/cutting/learned/", data)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Rate.objects.exists()


def test_a_decision_has_a_verb(lead_client: Client) -> None:
    history()
    data = {"rate": proposed(lead_client), "verb": "burn"}
    assert lead_client.post("/rates/change/cutting/learned/", data).status_code == 422


def test_a_rate_is_set_by_hand(lead_client: Client) -> None:
    data = {"driver": "piece", "minutes": "7.5", "since": "2026-04-01", "note": "new cutter"}
    answer = lead_client.post("/rates/change/cutting/rate/", data, follow=True)
    assert "The rate is saved." in answer.content.decode()
    row = Rate.objects.get()
    assert (row.step, row.driver, row.minutes, row.since) == ("", "piece", Decimal("7.5"), date(2026, 4, 1))


def test_a_rate_is_typed_in_the_studio_s_units(lead_client: Client) -> None:
    Studio.objects.update(units="in")
    lead_client.post("/rates/change/assembly/rate/", {"driver": "came_m", "minutes": "3"})
    # 3 minutes a foot: a meter is 1 / 0.3048 feet.
    assert float(Rate.objects.get().minutes) == pytest.approx(3 / 0.3048, abs=1e-4)
    assert "a foot of came" in lead_client.get("/rates/assembly/").content.decode()


def test_a_wheel_has_a_rate_of_its_own(lead_client: Client) -> None:
    html = lead_client.get("/rates/beveling/").content.decode()
    assert "By step" in html
    lead_client.post("/rates/change/beveling/rate/", {"step": "cork", "driver": "piece", "minutes": "3"})
    assert Rate.objects.get().step == "cork"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"driver": "piece"}, "This field is required"),
        ({"driver": "acre", "minutes": "3"}, "Select a valid choice"),
        ({"driver": "piece", "minutes": "-3"}, "greater than or equal to 0"),
        ({"driver": "piece", "minutes": "3", "since": "2026-03-26"}, "A rate holds from today on"),
    ],
)
def test_a_wrong_rate_stands_beside_its_refusal(
    lead_client: Client, data: dict[str, str], words: str
) -> None:
    answer = lead_client.post("/rates/change/cutting/rate/", data)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert words in html
    assert f'value="{data.get("minutes", "")}"' in html or "minutes" not in data
    assert not Rate.objects.exists()


def test_the_set_up_is_set_by_hand(lead_client: Client) -> None:
    data = {"minutes": "30", "slope": "0.9"}
    answer = lead_client.post("/rates/change/cutting/set-up/", data, follow=True)
    html = answer.content.decode()
    assert "The set-up is saved." in html
    assert "learning slope 0.9" in html
    assert KindSetup.objects.get().minutes == 30


def test_a_slope_that_cannot_be_is_refused(lead_client: Client) -> None:
    answer = lead_client.post("/rates/change/cutting/set-up/", {"minutes": "30", "slope": "2"})
    assert answer.status_code == 422
    assert "A learning slope is from 0.5 to 1" in answer.content.decode()


def test_the_picture_has_its_numbers_as_a_table(office_client: Client) -> None:
    history(3)
    answer = office_client.get("/rates/cutting/")
    html = answer.content.decode()
    picture = answer.context["picture"]
    assert html.count('<circle class="scatter-mark" ') == len(picture.marks) + 1  # And one in the key.
    # Expected by the rates: 45 + 6.3 x 10; taken: 145 minutes; estimated by the route: 90.
    assert '<td class="number">1:30</td><td class="number">1:48</td><td class="number">2:25</td>' in html


def test_what_takes_longer_than_it_should_lies_above_the_line(office_client: Client) -> None:
    history(3)
    picture = office_client.get("/rates/cutting/").context["picture"]
    # The line goes from the lower left corner to the upper right one.
    assert all(picture.foot - mark.y > mark.x - picture.edge for mark in picture.marks)


@pytest.mark.parametrize("slug", ["cure", "lamination", "nothing"])
def test_work_that_nobody_does_has_no_page(office_client: Client, slug: str) -> None:
    assert office_client.get(f"/rates/{slug}/").status_code == 404


def test_a_kind_without_rates_has_a_page(lead_client: Client) -> None:
    OperationKind.objects.filter(name="Blasting").update(slug="frosting")
    html = lead_client.get("/rates/frosting/").content.decode()
    assert "This kind of work has no rates yet" in html
    assert "Set a rate by hand" in html


def test_who_and_how(
    lead_client: Client, office_client: Client, tablet_client: Client, client: Client
) -> None:
    for address in ("/rates/", "/rates/cutting/"):
        assert tablet_client.get(address).status_code == 403
        assert client.get(address).status_code == 302
        assert office_client.post(address).status_code == 405
    for name in ("learned", "rate", "set-up"):
        address = f"/rates/change/cutting/{name}/"
        assert office_client.post(address).status_code == 403
        assert tablet_client.post(address).status_code == 403
        assert lead_client.get(address).status_code == 405


@pytest.mark.parametrize(
    ("driver", "units", "words", "shown"),
    [
        ("piece", "mm", "a piece", "6.30"),
        ("inner_corner", "in", "an inner corner", "6.30"),
        ("", "in", "of set-up", "6.30"),
        ("came_m", "mm", "a meter of came", "6.30"),
        ("came_m", "in", "a foot of came", "1.92"),
        ("glass_m2", "in", "a square foot of glass", "0.59"),
    ],
)
def test_rates_in_words(driver: str, units: str, words: str, shown: str) -> None:
    assert a(driver, units) == words
    assert amount(6.3, driver, units) == shown


@pytest.mark.parametrize(
    ("minutes", "shown"), [(0, "0"), (0.05, "0.05"), (2, "2"), (12.34, "12.3"), (234.5, "234")]
)
def test_digits_that_mean_something(minutes: float, shown: str) -> None:
    assert amount(minutes, "piece", "mm") == shown


@pytest.mark.parametrize(
    ("cell", "harmless_cell"),
    [
        ("=1+1", "'=1+1"),
        ("+49 1", "'+49 1"),
        ("-2", "'-2"),
        ("@me", "'@me"),
        ("\tx", "'\tx"),
        ("  =1", "'  =1"),
        ("Hall window", "Hall window"),
        (-2, -2),
        (None, ""),
        (date(2026, 3, 2), "2026-03-02"),
        (cast.at(2, "00:30"), "2026-03-02"),
    ],
)
def test_no_cell_is_a_formula(cell: Any, harmless_cell: Any) -> None:
    with timezone.override(cast.ZONE):
        assert harmless(cell) == harmless_cell
