"""The page of a bench: names, what to do next, taps and their refusals, with and without htmx."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.actions import Actor
from jobs.actions.bench import start
from jobs.models import (
    Account,
    Breakage,
    Event,
    Hold,
    Operation,
    Panel,
    Person,
    Projection,
    Skill,
    Station,
    Studio,
    TimeEntry,
)
from jobs.views import middleware
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
BEVELING = "/bench/beveling/"
CUTTING = "/bench/cutting/"


class Clock:
    def __init__(self, now: datetime) -> None:
        self.time = now

    def now(self) -> datetime:
        return self.time


@pytest.fixture
def clock(monkeypatch: Any) -> Clock:
    clock = Clock(at(2, "09:00"))
    monkeypatch.setattr(middleware, "timezone", _Zone(clock))
    return clock


class _Zone:
    """django.utils.timezone with a clock of the test's own."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock

    def now(self) -> datetime:
        return self.clock.now()

    def __getattr__(self, name: str) -> Any:
        from django.utils import timezone

        return getattr(timezone, name)


@pytest.fixture
def panel() -> Panel:
    return cast.make_panel(cast.make_job())


@pytest.fixture
def cutting(panel: Panel) -> Operation:
    return cast.operation_of(panel, "Cutting")


def come(client: Client, name: str, bench: str = CUTTING, **more: str) -> Any:
    return client.post(f"{bench}person/", {"person": cast.person(name).pk, **more})


def tap(client: Client, verb: str, pk: int, bench: str = CUTTING, **values: Any) -> Any:
    return client.post(f"{bench}{pk}/{verb}/", {"client_id": str(uuid4()), **values})


def words(response: Any) -> str:
    return " ".join(response.content.decode().split())


def test_a_tablet_is_sent_to_its_own_station(tablet_client: Client) -> None:
    assert tablet_client.get("/bench/").url == BEVELING
    assert "Assembly" in words(tablet_client.get("/bench/?all"))
    assert tablet_client.get("/bench/nowhere/").status_code == 404


def test_the_lead_and_a_tablet_without_station_choose(
    lead_client: Client, clock: Clock, cutting: Any
) -> None:
    start(cutting, cast.person("Mara"), by=Actor(), at=at(2, "08:00"))
    page = words(lead_client.get("/bench/"))
    assert all(f'href="/bench/{name}/"' in page for name in ("cutting", "beveling", "assembly", "blasting"))
    assert "Mara Lind" in page
    Station.objects.filter(name="Blasting").update(active=False)
    assert "Blasting" not in words(lead_client.get("/bench/"))
    assert lead_client.get("/bench/blasting/").status_code == 404


def test_the_office_and_nobody_may_not(office_client: Client, cutting: Operation) -> None:
    for address in ("/bench/", CUTTING, f"{CUTTING}hours/"):
        assert office_client.get(address).status_code == 403
        assert Client().get(address).url.startswith("/sign-in/")
    for verb in (
        "start",
        "pause",
        "put-back",
        "pieces",
        "finish",
        "reopen",
        "hold",
        "break",
        "release",
        "answer",
    ):
        assert office_client.post(f"{CUTTING}{cutting.pk}/{verb}/").status_code == 403
        assert Client().post(f"{CUTTING}{cutting.pk}/{verb}/").status_code == 302
    assert not Event.objects.exists()


def test_taps_are_posts(tablet_client: Client, cutting: Operation) -> None:
    for verb in (
        "start",
        "pause",
        "put-back",
        "pieces",
        "finish",
        "reopen",
        "hold",
        "break",
        "release",
        "answer",
    ):
        assert tablet_client.get(f"{CUTTING}{cutting.pk}/{verb}/").status_code == 405
    assert tablet_client.get(f"{CUTTING}person/").status_code == 405
    assert tablet_client.get(f"{CUTTING}leave/").status_code == 405
    assert tablet_client.post(CUTTING).status_code == 405


def test_names_show_who_is_at_what(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    start(cutting, cast.person("Mara"), by=Actor(), at=at(2, "08:05"))
    page = words(tablet_client.get(BEVELING))
    assert page.index("Ilse Roth") < page.index("Jonas Beck")  # Who bevels comes first.
    assert "Cutting 0412/1, Cutting, since 08:05" in page
    clock.time = at(3, "08:00")
    assert "left Cutting running on Mon 2 Mar" in words(tablet_client.get(BEVELING))


def test_a_tap_on_a_name_shows_what_is_next(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    response = come(tablet_client, "Mara")
    assert (response.status_code, response.url) == (303, CUTTING)
    page = words(tablet_client.get(CUTTING))
    for shown in ("Do next", "0412/1", "Light 1", "10", "0:00", "1:30", "Start"):
        assert shown in page
    assert tablet_client.get(CUTTING).headers["Cache-Control"] == "no-store"
    page = words(tablet_client.get(BEVELING))
    assert "Coming" in page
    assert "after Cutting" in page
    assert "Keep the wheel wet" not in page  # The caution is with the work, not with what is coming.
    tablet_client.post(f"{CUTTING}leave/")
    assert "Who is here?" in words(tablet_client.get(CUTTING))


def test_an_unknown_name_is_refused(tablet_client: Client) -> None:
    Person.objects.filter(name__startswith="Mara").update(active=False)
    assert come(tablet_client, "Mara").status_code == 422
    assert tablet_client.post(f"{CUTTING}person/", {"person": "x"}).status_code == 422
    assert "Who is here?" in words(tablet_client.get(CUTTING))


def test_the_names_come_back_after_ten_minutes(tablet_client: Client, clock: Clock, panel: Panel) -> None:
    come(tablet_client, "Mara")
    clock.time += timedelta(minutes=9)
    assert "Done here" in words(tablet_client.get(CUTTING))  # This look counts as a tap.
    clock.time += timedelta(minutes=9)
    renewed = tablet_client.get(CUTTING, headers={"HX-Request": "true", "X-Renews": "yes"})
    assert "Done here" in words(renewed)  # This one, by the page itself, does not.
    clock.time += timedelta(minutes=2)
    assert "Who is here?" in words(tablet_client.get(CUTTING))
    operation = cast.operation_of(panel, "Cutting")
    response = tablet_client.post(f"{CUTTING}{operation.pk}/start/", follow=True)
    assert "Tap your name first" in words(response)
    assert not TimeEntry.objects.exists()


def test_a_shift_of_taps(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    come(tablet_client, "Mara")
    assert tap(tablet_client, "start", cutting.pk).status_code == 303
    clock.time = at(2, "09:05")
    page = words(tablet_client.get(CUTTING))
    assert "since 09:00" in page
    assert "Pause" in page
    tap(tablet_client, "pieces", cutting.pk, add=5)
    tap(tablet_client, "pieces", cutting.pk, total=7)
    page = words(tablet_client.get(CUTTING))
    assert '<span class="big">3</span> of 10' in page
    assert "+5" not in page.split('id="bench"')[1]  # Fewer than five are left.
    tap(tablet_client, "pause", cutting.pk)
    assert "paused" in words(tablet_client.get(CUTTING))
    clock.time = at(2, "09:10")
    tap(tablet_client, "start", cutting.pk)
    clock.time = at(2, "09:14")
    asked = tap(tablet_client, "finish", cutting.pk)
    assert asked.status_code == 422
    assert "3 of 10 pieces are not counted as done yet. Are they done as well?" in words(asked)
    assert "All are done: finish" in words(asked)
    done = tap(tablet_client, "finish", cutting.pk, all_done="on")
    assert "Cutting is finished." in words(tablet_client.get(done.url))
    cutting.refresh_from_db()
    assert cutting.finished_at == at(2, "09:14")
    assert sum(entry.minutes or 0 for entry in TimeEntry.objects.all()) == 9
    assert {event.account.username for event in Event.objects.all() if event.account} == {"bevel-tablet"}
    assert {str(event.person) for event in Event.objects.all()} == {"Mara Lind"}
    tap(tablet_client, "reopen", cutting.pk)
    assert '<span class="big">3</span> of 10' in words(tablet_client.get(CUTTING))
    tap(tablet_client, "put-back", cutting.pk)
    cutting.refresh_from_db()
    assert cutting.keeper is None


def test_the_same_tap_sent_twice_is_one_entry(
    tablet_client: Client, clock: Clock, cutting: Operation
) -> None:
    come(tablet_client, "Mara")
    same = {"client_id": str(uuid4())}
    for _ in range(2):
        assert tablet_client.post(f"{CUTTING}{cutting.pk}/start/", same).status_code == 303
        clock.time += timedelta(minutes=1)
    plus = {"client_id": str(uuid4()), "add": 1}
    for _ in range(3):
        assert tablet_client.post(f"{CUTTING}{cutting.pk}/pieces/", plus).status_code == 303
    cutting.refresh_from_db()
    assert (TimeEntry.objects.count(), cutting.quantity_done) == (1, 1)


def test_htmx_gets_the_part_and_the_message(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    come(tablet_client, "Mara")
    tap(tablet_client, "start", cutting.pk)
    response = tablet_client.post(
        f"{CUTTING}{cutting.pk}/finish/",
        {"client_id": str(uuid4()), "all_done": "on"},
        headers={"HX-Request": "true"},
    )
    page = words(response)
    assert response.status_code == 200
    assert "<html" not in page
    assert 'id="messages"' in page
    assert "Cutting is finished." in page
    assert "Finished today" in page


def test_a_refused_start_is_said(tablet_client: Client, clock: Clock, panel: Panel) -> None:
    come(tablet_client, "Mara")
    response = tap(tablet_client, "start", cast.operation_of(panel, "Beveling").pk, bench=BEVELING)
    assert response.status_code == 422
    assert "It cannot be worked on before Cutting is finished." in words(response)
    response = tap(tablet_client, "start", 999_999)
    assert response.status_code == 404


def test_what_was_typed_is_kept_beside_its_refusal(
    tablet_client: Client, clock: Clock, cutting: Operation
) -> None:
    come(tablet_client, "Mara")
    tap(tablet_client, "start", cutting.pk)
    for verb, values, sentence, kept in (
        ("pieces", {"total": 12}, "There are 10 pieces", 'value="12"'),
        ("pieces", {"total": "many"}, "Enter a whole number", 'value="many"'),
        ("pieces", {}, "Type how many pieces are done", 'name="total"'),
        ("break", {"pieces": 11, "note": "slipped"}, "There are only 10 pieces", 'value="slipped"'),
        ("break", {"pieces": ""}, "Say how many pieces broke", 'name="pieces"'),
        ("hold", {"reason": "  "}, "Say what it waits for", 'name="reason"'),
        ("hold", {"reason": "late glass", "until": "2026-03-01"}, "That day is over", 'value="late glass"'),
    ):
        response = tap(tablet_client, verb, cutting.pk, **values)
        page = words(response)
        assert response.status_code == 422, verb
        assert sentence in page
        assert kept in page
        assert "<details open>" in page
    assert not Hold.objects.exists()
    assert not Breakage.objects.exists()


def test_hold_by_a_quick_reason_and_go_on(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    come(tablet_client, "Mara")
    tap(tablet_client, "start", cutting.pk)
    tap(tablet_client, "hold", cutting.pk, quick="glass missing", reason="")
    hold = Hold.objects.get()
    assert (hold.reason, hold.held_by) == ("glass missing", "Mara Lind")
    page = words(tablet_client.get(CUTTING))
    assert "glass missing, since Mon 2 Mar (Mara Lind)" in page
    tap(tablet_client, "release", hold.pk)
    assert not Hold.objects.filter(released_at=None).exists()
    assert tap(tablet_client, "release", hold.pk).status_code == 422


def test_a_breakage_makes_new_work(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    come(tablet_client, "Mara")
    tap(tablet_client, "start", cutting.pk)
    response = tap(tablet_client, "break", cutting.pk, pieces=2, note="corner")
    page = words(tablet_client.get(response.url))
    assert "New work: Cutting again, 2 pieces." in page
    assert '<span class="big">8</span> of 8' in page
    assert Breakage.objects.get().note == "corner"


def test_a_renewal_leaves_what_the_tap_was_answered_with(
    tablet_client: Client, clock: Clock, cutting: Operation
) -> None:
    come(tablet_client, "Mara")
    by_htmx = {"HX-Request": "true"}
    assert 'id="messages"' in words(tablet_client.get(CUTTING, headers=by_htmx))
    renews = by_htmx | {"X-Renews": "yes"}
    assert 'id="messages"' not in words(tablet_client.get(CUTTING, headers=renews))
    tap(tablet_client, "break", cutting.pk, pieces=2, note="corner")
    renewed = words(tablet_client.get(CUTTING, headers=renews))
    assert "New work: Cutting again, 2 pieces." in renewed


def test_two_people_at_one_work(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    start(cutting, cast.person("Jonas"), by=Actor(), at=at(2, "08:30"))
    come(tablet_client, "Mara")
    page = words(tablet_client.get(CUTTING))
    assert "Jonas Beck has it, since 08:30" in page
    refused = tap(tablet_client, "start", cutting.pk)
    assert "Jonas Beck has it on the bench." in words(refused)
    assert tap(tablet_client, "start", cutting.pk, take_over="on").status_code == 303
    cutting.refresh_from_db()
    assert cutting.keeper == cast.person("Mara")


def test_what_runs_elsewhere_is_shown_here(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    start(cutting, cast.person("Mara"), by=Actor(), at=at(2, "08:30"))
    come(tablet_client, "Mara", BEVELING)
    page = words(tablet_client.get(BEVELING))
    assert "at Cutting" in page
    assert "since 08:30" in page
    assert tap(tablet_client, "pause", cutting.pk, bench=BEVELING).status_code == 303


def test_without_the_skill_nothing_is_offered(
    tablet_client: Client, clock: Clock, cutting: Operation
) -> None:
    come(tablet_client, "Ilse")
    page = words(tablet_client.get(CUTTING))
    assert "not among your skills" in page
    assert "Do next" not in page
    Operation.objects.filter(pk=cutting.pk).update(pinned_person=cast.person("Ilse"))
    cache.clear()  # Pinned by hand, so no event tells that something has changed.
    assert "Do next" in words(tablet_client.get(CUTTING))
    come(tablet_client, "Mara")
    assert "meant for Ilse Roth" in words(tablet_client.get(CUTTING))


def test_work_comes_in_the_planned_order(tablet_client: Client, clock: Clock, panel: Panel) -> None:
    job = panel.job
    panels = [panel] + [cast.make_panel(job, number) for number in range(2, 12)]
    operations = [cast.operation_of(each, "Cutting") for each in panels]
    mara, jonas = cast.person("Mara"), cast.person("Jonas")
    when = {"p50": at(5), "p80": at(6), "p95": at(9)}
    for rank, number in enumerate([5, 3, 1]):
        person = mara if number == 1 else jonas
        Projection.objects.create(operation=operations[number], rank=rank, person=person, **when)
    Operation.objects.filter(pk=operations[7].pk).update(pinned_place=1)
    come(tablet_client, "Mara")
    page = words(tablet_client.get(CUTTING))
    codes = ["0412/2", "0412/6", "0412/4", "0412/8", "0412/1", "0412/3", "0412/5"]
    places = [page.index(f"{code}<") for code in codes]
    assert places == sorted(places)
    assert "and 4 more" in page
    assert page.index("Do next") < page.index("0412/2<")


def test_cautions_are_shown_with_the_work(tablet_client: Client, clock: Clock) -> None:
    job = cast.make_job()
    cast.make_panel(job, kinds=("Beveling",), width_mm=2000, height_mm=1000)
    come(tablet_client, "Mara", BEVELING)
    page = words(tablet_client.get(BEVELING))
    assert "Eye protection. Keep the wheel wet." in page
    # 2 m2 of 6.35 mm at 2500 kg/m3 (EN 572-1, from memory) are 31.75 kg, 70 lb.
    assert "about 70 lb" in page
    assert "<span>coarse</span><span>smooth</span>" in page


def test_a_timer_left_on_is_asked_about_first(
    tablet_client: Client, clock: Clock, cutting: Operation
) -> None:
    entry = start(cutting, cast.person("Mara"), by=Actor(), at=at(2, "15:00"))
    clock.time = at(3, "08:00")
    come(tablet_client, "Mara")
    page = words(tablet_client.get(BEVELING))
    assert "When did you stop?" in page
    assert "At the end of the shift, Mon 2 Mar, 16:30" in page
    assert "until now" not in page  # That would be seventeen hours.
    assert "Do next" not in page
    other = cast.operation_of(cast.make_panel(cutting.job, 2), "Cutting")
    refused = tap(tablet_client, "start", other.pk)
    assert refused.status_code == 422
    assert "first say when it stopped" in words(refused)
    for values, sentence in (
        ({"when": "typed", "day": "2026-03-02", "time": ""}, "Say when it stopped"),
        ({"when": "typed", "day": "2026-03-02", "time": "14:00"}, "ends before it begins"),
        ({"when": "now"}, "more than 16 hours"),
        ({"when": "later"}, "later"),
    ):
        response = tap(tablet_client, "answer", entry.pk, **values)
        assert response.status_code == 422
        assert sentence in words(response)
    tap(tablet_client, "answer", entry.pk, when="typed", day="2026-03-02", time="16:10")
    entry.refresh_from_db()
    assert (entry.stopped_at, entry.minutes) == (at(2, "16:10"), 70)
    assert "paused" in words(tablet_client.get(CUTTING))


def test_an_answer_at_the_end_of_the_shift(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    entry = start(cutting, cast.person("Mara"), by=Actor(), at=at(2, "15:00"))
    clock.time = at(3, "08:00")
    come(tablet_client, "Mara")
    tap(tablet_client, "answer", entry.pk, when="end")
    entry.refresh_from_db()
    assert (entry.stopped_at, entry.minutes) == (at(2, "16:30"), 90)


def test_a_late_evening_is_answered_with_now(tablet_client: Client, clock: Clock, cutting: Operation) -> None:
    entry = start(cutting, cast.person("Mara"), by=Actor(), at=at(2, "15:00"))
    clock.time = at(2, "18:00")
    come(tablet_client, "Mara")
    assert "I worked on until now" in words(tablet_client.get(CUTTING))
    tap(tablet_client, "answer", entry.pk, when="now")
    entry.refresh_from_db()
    assert (entry.stopped_at, entry.minutes) == (at(2, "18:00"), 180)


def test_on_a_day_without_hours_no_end_is_proposed(
    tablet_client: Client, lead_client: Client, clock: Clock, cutting: Operation
) -> None:
    start(cutting, cast.person("Mara"), by=Actor(), at=at(7, "10:00"))  # A Saturday.
    clock.time = at(9, "08:00")
    come(tablet_client, "Mara")
    page = words(tablet_client.get(CUTTING))
    assert "When did you stop?" in page
    assert "end of the shift" not in page
    assert "Stopped then" in words(lead_client.get("/hours/"))


def test_a_pin_is_asked_where_the_studio_does(tablet_client: Client, clock: Clock, panel: Panel) -> None:
    from django.contrib.auth.hashers import make_password

    Person.objects.filter(name__startswith="Mara").update(pin=make_password("4711"))
    assert come(tablet_client, "Mara").status_code == 303  # The studio does not ask.
    tablet_client.post(f"{CUTTING}leave/")
    Studio.objects.update(asks_pin=True)
    asked = come(tablet_client, "Mara")
    # Asked on a page of its own, to which a browser goes back without sending the name again.
    assert asked.status_code == 303
    assert "Mara Lind, your PIN" in words(tablet_client.get(asked.url))
    assert "Who is here?" in words(tablet_client.get(f"{CUTTING}?pin=nobody"))
    wrong = come(tablet_client, "Mara", pin="4712")
    assert wrong.status_code == 422
    assert "That is not the PIN" in words(wrong)
    assert "4712" not in words(wrong)
    assert come(tablet_client, "Mara", pin="4711").status_code == 303
    assert "Done here" in words(tablet_client.get(CUTTING))
    assert come(tablet_client, "Jonas").status_code == 303  # Has none.
    assert Event.objects.filter(verb="mistyped the PIN").count() == 1


def test_wrong_pins_are_throttled(tablet_client: Client, clock: Clock) -> None:
    from django.contrib.auth.hashers import make_password

    Person.objects.filter(name__startswith="Mara").update(pin=make_password("4711"))
    Studio.objects.update(asks_pin=True)
    for number in range(5):
        assert come(tablet_client, "Mara", pin=f"000{number}").status_code == 422
    refused = come(tablet_client, "Mara", pin="4711")
    assert refused.status_code == 422
    assert "Too many wrong PINs" in words(refused)
    clock.time += timedelta(minutes=11)
    assert come(tablet_client, "Mara", pin="4711").status_code == 303


def test_the_number_of_queries_does_not_grow(tablet_client: Client, clock: Clock) -> None:
    def fill(number: int, count: int) -> None:
        job = cast.make_job(number=f"05{number:02}", ordered_at=at(2))
        for each in range(1, count + 1):
            panel = cast.make_panel(job, each)
            if each % 4 == 0:
                Hold.objects.create(panel=panel, reason="late glass", since=at(2), held_by="Nora")
            if each % 3 == 0:
                Operation.objects.filter(panel=panel, kind__name="Cutting").update(
                    keeper=cast.person("Mara" if each % 2 else "Jonas"), started_at=at(2)
                )

    def queries(address: str) -> int:
        tablet_client.get(address)
        with CaptureQueriesContext(connection) as captured:
            assert tablet_client.get(address).status_code == 200
        return len(captured)

    fill(1, 6)
    start(
        cast.operation_of(Panel.objects.get(number=1), "Cutting"),
        cast.person("Mara"),
        by=Actor(),
        at=at(2, "08:30"),
    )
    names = queries(CUTTING)
    come(tablet_client, "Mara")
    work = [queries(CUTTING), queries(BEVELING)]
    fill(2, 24)
    assert [queries(CUTTING), queries(BEVELING)] == work
    assert max(work) <= 26
    tablet_client.post(f"{CUTTING}leave/")
    assert queries(CUTTING) == names


def test_an_empty_studio_has_empty_pages(lead_client: Client) -> None:
    TimeEntry.objects.all().delete()
    Skill.objects.all().delete()
    Person.objects.all().delete()
    assert "Nobody is on the list" in words(lead_client.get(CUTTING))
    Station.objects.update(active=False)
    assert "no station yet" in words(lead_client.get("/bench/"))


def test_addresses_are_named(tablet: Account) -> None:
    assert reverse("bench", args=["beveling"]) == BEVELING
    assert reverse("bench-choose") == "/bench/"
