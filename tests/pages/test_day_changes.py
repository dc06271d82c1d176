"""Something changed: each small form shows which dates move, writes down what is confirmed, and is taken back."""

import re
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from jobs.models import (
    ChangeKind,
    DayChange,
    DayOff,
    Event,
    ExtraHours,
    Gate,
    Glass,
    Job,
    Operation,
    PlanState,
    Projection,
    Station,
    TimeEntry,
)
from jobs.snapshot import read_shop
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = datetime(2026, 3, 2, 10, tzinfo=ZoneInfo("Europe/Vienna"))


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    set_clock(monkeypatch, NOW)
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 20})


def set_clock(monkeypatch: pytest.MonkeyPatch, at: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: at)


@pytest.fixture
def job() -> Job:
    job = cast.make_job(wanted_by=date(2026, 3, 5))
    cast.make_panel(job)
    cast.make_panel(job, 2)
    return job


def station(name: str) -> Station:
    return Station.objects.get(name=name)


def say(client: Client, kind: str, typed: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """What the page shows of what was typed, and what its Confirm sends."""
    answer = client.get(f"/changed/{kind}/", typed)
    html = answer.content.decode()
    assert answer.status_code == 200, re.findall(r'class="wrong".*?</ul>', html, re.S)
    seen = re.search(r'name="seen" value="(\w+)"', html)
    assert seen
    return html, typed | {"seen": seen[1]}


def confirmed(client: Client, kind: str, typed: dict[str, Any]) -> str:
    answer = client.post(f"/changed/{kind}/", say(client, kind, typed)[1], follow=True)
    assert answer.redirect_chain == [("/", 302)]
    return answer.content.decode()


def refusal(client: Client, kind: str, typed: dict[str, Any]) -> str:
    """What is said where nothing may be written, which is the same by looking and by sending."""
    written = DayChange.objects.count()
    shown = client.get(f"/changed/{kind}/", typed)
    sent = client.post(f"/changed/{kind}/", typed | {"seen": "x"})
    assert (shown.status_code, sent.status_code) == (422, 422)
    assert DayChange.objects.count() == written
    return sent.content.decode()


def ill(until: str = "2026-03-05", name: str = "Mara") -> dict[str, Any]:
    return {"person": cast.person(name).pk, "until": until, "why": "the flu"}


def moved(name: str = "Mara", to: str = "Cutting", until: str = "2026-03-03") -> dict[str, Any]:
    return {"person": cast.person(name).pk, "station": station(to).pk, "until": until}


def down(until: str = "2026-03-04", count: int = 1) -> dict[str, Any]:
    return {"station": station("Beveling").pk, "what": "wheel 3", "count": count, "until": until}


def saturday(**more: Any) -> dict[str, Any]:
    people = [cast.person(name).pk for name in ("Mara", "Ilse")]
    return {"until": "2026-03-07", "people": people, "start": "08:00", "stop": "12:00"} | more


def test_the_floor_leads_to_six_forms(lead_client: Client) -> None:
    assert 'href="/changed/"' in lead_client.get("/").content.decode()
    html = lead_client.get("/changed/").content.decode()
    for kind in ChangeKind.values:
        assert f'href="/changed/{kind}/"' in html
        assert lead_client.get(f"/changed/{kind}/").status_code == 200
    assert "Nothing is out of the ordinary" in html
    assert lead_client.get("/changed/fire/").status_code == 404


def test_the_office_sees_no_way_to_them(office_client: Client, lead_client: Client, job: Job) -> None:
    confirmed(lead_client, "ill", ill())
    html = office_client.get("/").content.decode()
    assert "Mara Lind is ill" in html
    assert "Take back" not in html
    assert "/changed/" not in html
    row = DayChange.objects.get()
    for answer in (
        office_client.get("/changed/"),
        office_client.post("/changed/ill/", ill() | {"seen": "x"}),
        office_client.post(f"/changed/{row.pk}/take-back/"),
    ):
        assert answer.status_code == 403
    assert DayChange.objects.filter(ended_at=None).count() == 1


def test_only_a_post_writes(lead_client: Client, job: Job) -> None:
    say(lead_client, "ill", ill())
    assert not DayOff.objects.exists()
    assert not DayChange.objects.exists()
    assert lead_client.put("/changed/ill/").status_code == 405


def test_somebody_is_ill(lead_client: Client, job: Job) -> None:
    cutting = cast.operation_of(job.panels.all()[0], "Cutting")
    TimeEntry.objects.create(
        person=cast.person("Mara"), operation=cutting, started_at=NOW - timedelta(hours=1)
    )
    # Mara and Ilse bevel; without Mara it takes longer.
    html, _ = say(lead_client, "ill", ill())
    assert "1 job later, 0 earlier" in html
    assert "0412" in html
    floor = confirmed(lead_client, "ill", ill())
    assert "Mara Lind is ill</strong> until Thu 5 Mar" in floor
    off = DayOff.objects.get()
    assert (off.first, off.last) == (date(2026, 3, 2), date(2026, 3, 5))
    assert TimeEntry.objects.get().stopped_at == NOW
    event = Event.objects.get(verb="written down")
    assert (event.why, event.after["until"]) == ("the flu", "2026-03-05")
    state = PlanState.objects.get()
    assert (state.out_of_date, state.planned_at) == (False, NOW)


def test_who_is_ill_is_back(lead_client: Client, job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    confirmed(lead_client, "ill", ill())
    set_clock(monkeypatch, NOW + timedelta(days=2))
    html = lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/", follow=True).content.decode()
    assert "Taken back" in html
    assert "is ill" not in html
    assert DayOff.objects.get().last == date(2026, 3, 3)
    again = lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/", follow=True)
    assert "That does not hold any more." in again.content.decode()


def test_a_mistake_leaves_no_day_off(lead_client: Client, job: Job) -> None:
    confirmed(lead_client, "ill", ill())
    lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/")
    assert not DayOff.objects.exists()


def test_days_off_taken_out_by_hand_are_no_illness(lead_client: Client, job: Job) -> None:
    confirmed(lead_client, "ill", ill())
    lead_client.post(f"/set-up/people/{cast.person('Mara').pk}/days-off/{DayOff.objects.get().pk}/remove/")
    assert "is ill" not in lead_client.get("/").content.decode()


def test_somebody_goes_to_another_bench(lead_client: Client, job: Job) -> None:
    beveling = cast.operation_of(job.panels.all()[0], "Beveling")
    entry = TimeEntry.objects.create(
        person=cast.person("Mara"), operation=beveling, started_at=NOW - timedelta(hours=1)
    )
    floor = confirmed(lead_client, "moved", moved())
    assert "Mara Lind is at Cutting</strong> until Tue 3 Mar" in floor
    entry.refresh_from_db()
    assert (entry.stopped_at, entry.minutes) == (NOW, 60)
    stays = {person.name: person.stays for person in read_shop(NOW).people}
    over = datetime(2026, 3, 4, tzinfo=NOW.tzinfo)
    assert stays["Mara Lind"] == (station("Cutting").pk, over)
    assert stays["Jonas Beck"] is None
    assert read_shop(over).people[0].stays is None
    lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/")
    assert all(person.stays is None for person in read_shop(NOW).people)


def test_what_runs_at_that_bench_goes_on(lead_client: Client, job: Job) -> None:
    cutting = cast.operation_of(job.panels.all()[0], "Cutting")
    TimeEntry.objects.create(person=cast.person("Mara"), operation=cutting, started_at=NOW)
    confirmed(lead_client, "moved", moved())
    assert TimeEntry.objects.get().stopped_at is None


def test_who_moves_on_is_at_one_bench_only(lead_client: Client, job: Job) -> None:
    confirmed(lead_client, "moved", moved())
    floor = confirmed(lead_client, "moved", moved(to="Beveling"))
    assert "is at Beveling" in floor
    assert "is at Cutting" not in floor
    assert DayChange.objects.filter(ended_at=None).count() == 1


def test_a_machine_is_down(lead_client: Client, job: Job) -> None:
    floor = confirmed(lead_client, "down", down(count=2))
    assert "wheel 3 (Beveling) is down</strong> until Wed 4 Mar" in floor
    back = {each.name: each.back for each in read_shop(NOW).stations}
    over = datetime(2026, 3, 5, tzinfo=NOW.tzinfo)
    assert (back["Beveling"], back["Cutting"]) == ((over, over), ())
    # Nothing is beveled before the wheels are back.
    starts = Projection.objects.get(operation=cast.operation_of(job.panels.all()[0], "Beveling"))
    assert starts.start == datetime(2026, 3, 5, 8, tzinfo=NOW.tzinfo)
    lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/")
    assert not any(each.back for each in read_shop(NOW).stations)


def test_fewer_benches_than_are_down_is_no_harm(lead_client: Client, job: Job) -> None:
    confirmed(lead_client, "down", down(count=2))
    Station.objects.filter(name="Beveling").update(benches=1)
    assert [len(each.back) for each in read_shop(NOW).stations if each.name == "Beveling"] == [1]


def test_a_gate_is_late(lead_client: Client, job: Job) -> None:
    gate = cast.make_gate(job, "drawing", expected=date(2026, 3, 3))
    html, _ = say(lead_client, "late", {"late": f"gate-{gate.pk}", "until": "2026-03-10"})
    assert "1 promise falls under 80 %" in html or "No promise falls" in html
    floor = confirmed(lead_client, "late", {"late": f"gate-{gate.pk}", "until": "2026-03-10"})
    assert "is late:</strong> comes Tue 10 Mar" in floor
    assert Gate.objects.get().expected == date(2026, 3, 10)
    lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/")
    assert Gate.objects.get().expected == date(2026, 3, 3)


def test_glass_on_order_is_late(lead_client: Client, job: Job) -> None:
    cast.make_glass()
    gate = cast.make_gate(job, "glass", expected=date(2026, 3, 4))
    red = {"glass": Glass.objects.get(name="Red"), "amount": 1, "unit": "m²", "gate": "glass"}
    need = job.needs.create(ordered=date(2026, 2, 20), expected=date(2026, 3, 4), **red)
    page = lead_client.get("/changed/late/").content.decode()
    assert f"need-{need.pk}" in page
    assert f"gate-{gate.pk}" not in page
    confirmed(lead_client, "late", {"late": f"need-{need.pk}", "until": "2026-03-12"})
    need.refresh_from_db()
    gate.refresh_from_db()
    assert (need.expected, gate.expected) == (date(2026, 3, 12), date(2026, 3, 12))
    lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/")
    need.refresh_from_db()
    gate.refresh_from_db()
    assert (need.expected, gate.expected) == (date(2026, 3, 4), date(2026, 3, 4))


def test_work_at_a_supplier_is_late(lead_client: Client, job: Job) -> None:
    panel = cast.make_panel(job, 3, kinds=("Lamination",))
    out = cast.operation_of(panel, "Lamination")
    Operation.objects.filter(pk=out.pk).update(started_at=NOW - timedelta(days=1), estimate=3 * 1440)
    floor = confirmed(lead_client, "late", {"late": f"work-{out.pk}", "until": "2026-03-09"})
    assert "0412/3 Lamination is late:</strong> comes Mon 9 Mar" in floor
    out.refresh_from_db()
    assert out.estimate == 8 * 1440
    lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/")
    out.refresh_from_db()
    assert out.estimate == 3 * 1440


def test_a_rush_job_goes_first(lead_client: Client, job: Job) -> None:
    other = cast.make_job("0413", "Door light")
    cast.make_panel(other)
    before = cast.operation_of(job.panels.all()[0], "Cutting")
    Operation.objects.filter(pk=before.pk).update(pinned_place=-1)
    floor = confirmed(lead_client, "rush", {"job": other.pk})
    assert "0413 Door light goes first everywhere</strong>" in floor
    places = Operation.objects.filter(job=other).values_list("pinned_place", flat=True)
    assert all(place is not None and place <= -1 for place in places)
    assert cast.operation_of(other.panels.all()[0], "Cutting").pinned_place == -2
    assert "goes first everywhere already" in refusal(lead_client, "rush", {"job": other.pk})
    lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/")
    assert not Operation.objects.filter(job=other, pinned_place__isnull=False).exists()
    before.refresh_from_db()
    assert before.pinned_place == -1


def test_a_saturday_is_worked(lead_client: Client, job: Job) -> None:
    floor = confirmed(lead_client, "saturday", saturday())
    assert "extra hours 08:00-12:00</strong> on Sat 7 Mar" in floor
    hours = ExtraHours.objects.order_by("person__name")
    assert [(each.person.name, each.day, each.start, each.stop) for each in hours] == [
        ("Ilse Roth", date(2026, 3, 7), time(8), time(12)),
        ("Mara Lind", date(2026, 3, 7), time(8), time(12)),
    ]
    lead_client.post(f"/changed/{DayChange.objects.get().pk}/take-back/")
    assert not ExtraHours.objects.exists()


@pytest.mark.parametrize(
    ("kind", "typed", "sentence"),
    [
        ("ill", lambda: ill(until="2026-03-01"), "That day is over."),
        ("ill", lambda: ill(until="2028-03-01"), "more than a year away"),
        ("ill", lambda: ill() | {"person": ""}, "This field is required."),
        ("ill", lambda: ill() | {"person": 999}, "not one of the available choices"),
        ("moved", lambda: moved(until="2026-03-01"), "That day is over."),
        ("moved", lambda: moved(name="Ilse"), "Ilse Roth does not work at Cutting."),
        ("moved", lambda: moved() | {"station": ""}, "This field is required."),
        ("down", lambda: down(until="2026-03-01"), "That day is over."),
        ("down", lambda: down(count=3), "Beveling has 2 benches in use."),
        ("down", lambda: down() | {"what": "x" * 41}, "at most 40 characters"),
        ("late", lambda: {"late": "gate-999", "until": "2026-03-10"}, "not one of the available choices"),
        ("late", lambda: {"late": "", "until": "2026-03-10"}, "This field is required."),
        ("rush", lambda: {"job": 999}, "not one of the available choices"),
        ("rush", lambda: {"job": ""}, "This field is required."),
        ("saturday", lambda: saturday(people=[]), "This field is required."),
        ("saturday", lambda: saturday(until="2026-02-28"), "That day is over."),
        ("saturday", lambda: saturday(stop="07:00"), "It stops before it starts."),
    ],
)
def test_bad_input(lead_client: Client, job: Job, kind: str, typed: Any, sentence: str) -> None:
    assert sentence in refusal(lead_client, kind, typed())


def test_what_is_so_already(lead_client: Client, job: Job) -> None:
    gate = cast.make_gate(job, "drawing", expected=date(2026, 3, 3))
    for kind, typed in (("ill", ill()), ("moved", moved(name="Jonas")), ("down", down(count=2))):
        confirmed(lead_client, kind, typed)
    confirmed(lead_client, "saturday", saturday(people=[cast.person("Jonas").pk]))
    assert "Mara Lind is off until Thursday 5 March 2026 already." in refusal(lead_client, "ill", ill())
    assert "Jonas Beck is at Cutting until Tuesday 3 March 2026 already." in refusal(
        lead_client, "moved", moved(name="Jonas", until="2026-03-02")
    )
    assert "Every bench of Beveling is down already." in refusal(lead_client, "down", down())
    late = {"late": f"gate-{gate.pk}", "until": "2026-03-03"}
    assert "is expected on that day already." in refusal(lead_client, "late", late)


def test_hours_that_are_worked_anyway_are_refused_at_confirm(lead_client: Client, job: Job) -> None:
    people = [cast.person("Jonas").pk]
    confirmed(lead_client, "saturday", saturday(people=people))
    _, sent = say(lead_client, "saturday", saturday(people=people))
    answer = lead_client.post("/changed/saturday/", sent)
    assert answer.status_code == 422
    assert "overlap" in answer.content.decode()
    assert ExtraHours.objects.count() == 1


def test_a_job_without_waiting_work_cannot_rush(lead_client: Client, job: Job) -> None:
    Operation.objects.update(keeper=cast.person("Mara"))
    assert "0412 has no work that waits for a turn." in refusal(lead_client, "rush", {"job": job.pk})


def test_the_floor_changed_meanwhile(lead_client: Client, job: Job) -> None:
    html, sent = say(lead_client, "ill", ill())
    # Another job goes in between: what was shown does not hold any more.
    other = cast.make_job("0413", "Door light", wanted_by=date(2026, 3, 4))
    cast.make_panel(other)
    cast.make_panel(other, 2)
    PlanState.objects.update(revision=7)
    answer = lead_client.post("/changed/ill/", sent)
    again = answer.content.decode()
    assert answer.status_code == 422
    assert "The floor has changed since these dates were shown." in again
    assert "0413" in again
    assert "0413" not in html
    assert not DayOff.objects.exists()
    new = re.search(r'name="seen" value="(\w+)"', again)
    assert new
    assert lead_client.post("/changed/ill/", sent | {"seen": new[1]}).status_code == 302
    assert DayOff.objects.exists()


def test_what_moves_no_other_date_needs_no_second_look(lead_client: Client, job: Job) -> None:
    _, sent = say(lead_client, "ill", ill())
    PlanState.objects.update(revision=7)
    assert lead_client.post("/changed/ill/", sent).status_code == 302


def test_it_is_over_by_itself(lead_client: Client, job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    confirmed(lead_client, "down", down())
    set_clock(monkeypatch, NOW + timedelta(days=3))
    assert "wheel 3" not in lead_client.get("/").content.decode()
    assert not any(each.back for each in read_shop(NOW + timedelta(days=3)).stations)
