"""Django's admin: the lead's alone, nothing goes by unwritten, and raw hours are never deleted."""

from datetime import date, time
from typing import Any

import pytest
from django.apps import apps
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from jobs.admin.base import LeadOnly, Recorded
from jobs.models import (
    Account,
    ClosedDay,
    Customer,
    Event,
    Operation,
    OperationKind,
    PlanState,
    Promise,
    Route,
    RouteStep,
    Tap,
    TimeEntry,
)
from tests import cast

REGISTERED = [model for model in admin.site._registry if model._meta.app_label == "jobs"]
# These are seen on the page of the row that they belong to.
INLINE_ALONE = {"skill", "shift", "dayoff", "extrahours", "routestep", "quoteline"}
# The key of a session is a secret, and the admin would name it by that.
NOT_HERE = {"signedin"}
CHANGED_HERE = {"customer", "operationkind", "route", "job", "panel", "operation"}
CHANGED_HERE |= {"glass", "came", "supplier", "material"}


@pytest.fixture
def full(shop: None, lead: Account) -> None:
    """One row of each model that has one anyway, so that lists and pages have something to show."""
    job = cast.make_job()
    cast.make_gate(job, "drawing")
    operation = cast.operation_of(cast.make_panel(job), "Cutting")
    mara = cast.person("Mara")
    TimeEntry.objects.create(
        person=mara, operation=operation, started_at=cast.at(2), stopped_at=cast.at(2, "09:00"), minutes=60
    )
    Promise.objects.create(job=job, day=date(2026, 4, 1), given_at=cast.at(2), given_by=lead, told="Vicar")
    Event.objects.create(at=cast.at(2), account=lead, verb="added", subject="job", subject_id=job.pk, job=job)
    ClosedDay.objects.create(day=date(2026, 5, 1))
    Tap.objects.create(client_id="00000000-0000-4000-8000-000000000001", at=cast.at(2), verb="start")
    mara.extra_hours.create(day=date(2026, 3, 7), start=time(8), stop=time(12))
    PlanState.current()


def url(model: Any, page: str, *args: Any) -> str:
    return reverse(f"admin:jobs_{model._meta.model_name}_{page}", args=args)


def revision() -> int:
    return PlanState.current().revision


def test_every_model_can_be_looked_at() -> None:
    names = {model._meta.model_name for model in apps.get_app_config("jobs").get_models()}
    assert {model._meta.model_name for model in REGISTERED} == names - INLINE_ALONE - NOT_HERE
    inlines = {
        inline.model._meta.model_name for row in admin.site._registry.values() for inline in row.inlines
    }
    assert inlines >= INLINE_ALONE


@pytest.mark.parametrize("model", REGISTERED, ids=lambda model: model._meta.model_name)
def test_every_page_opens_with_search_and_in_few_queries(
    full: None, lead_client: Client, model: Any, django_assert_max_num_queries: Any
) -> None:
    with django_assert_max_num_queries(20):
        assert lead_client.get(url(model, "changelist"), {"q": "a"}).status_code == 200
    row = model.objects.first()
    if row is not None:
        assert lead_client.get(url(model, "change", row.pk)).status_code == 200
        assert lead_client.get(url(model, "history", row.pk)).status_code == 200


@pytest.mark.parametrize("who", ["office_client", "tablet_client"])
def test_nobody_else_gets_in(request: pytest.FixtureRequest, who: str, full: None) -> None:
    client = request.getfixturevalue(who)
    for address in (reverse("admin:index"), url(Route, "changelist"), url(TimeEntry, "changelist")):
        answer = client.get(address, follow=True)
        assert answer.status_code == 403
    # Not even with the mark that Django itself goes by.
    Account.objects.update(is_staff=True, is_superuser=True)
    assert client.get(reverse("admin:index"), follow=True).status_code == 403


def test_there_is_one_way_in(client: Client, lead_client: Client) -> None:
    answer = client.get(reverse("admin:index"), follow=True)
    assert answer.request["PATH_INFO"] == reverse("sign-in")
    assert 'name="next" value="/admin/"' in answer.content.decode()
    assert lead_client.get(reverse("admin:login"))["Location"] == reverse("admin:index")
    assert lead_client.get(reverse("admin:password_change"))["Location"] == reverse("password")


def test_what_is_changed_here_is_recorded() -> None:
    for model, page in admin.site._registry.items():
        if model._meta.app_label == "jobs":
            assert isinstance(page, LeadOnly)
            assert isinstance(page, Recorded) == (model._meta.model_name in CHANGED_HERE)


@pytest.mark.parametrize(
    "model",
    [model for model in REGISTERED if model._meta.model_name not in CHANGED_HERE],
    ids=lambda model: model._meta.model_name,
)
def test_the_rest_is_neither_added_nor_changed_nor_deleted(
    full: None, lead_client: Client, model: Any
) -> None:
    assert lead_client.get(url(model, "add")).status_code == 403
    row = model.objects.first()
    if row is not None:
        assert lead_client.post(url(model, "change", row.pk), {}).status_code == 403
        assert lead_client.post(url(model, "delete", row.pk), {"post": "yes"}).status_code == 403
        typed = {"action": "delete_selected", "_selected_action": row.pk, "post": "yes"}
        lead_client.post(url(model, "changelist"), typed)
        assert model.objects.filter(pk=row.pk).exists()


def test_no_password_and_no_pin_is_shown(full: None, lead: Account, lead_client: Client) -> None:
    mara = cast.person("Mara")
    type(mara).objects.filter(pk=mara.pk).update(pin="md5$salt$hash")
    assert "md5$" not in lead_client.get(url(Account, "change", lead.pk)).content.decode()
    assert "md5$" not in lead_client.get(url(mara, "change", mara.pk)).content.decode()


# Kinds of work

KIND = {
    "name": "Etching",
    "slug": "etching",
    "place": "9",
    "nature": "attended",
    "crew": "1",
    "steps": "mask\n\n blast \n",
    "cautions": "",
}


def test_a_kind_is_added_changed_and_removed_and_each_is_written_down(
    lead_client: Client, lead: Account
) -> None:
    start = revision()
    station = OperationKind.objects.get(name="Blasting").station
    assert lead_client.post(url(OperationKind, "add"), KIND | {"station": station.pk}).status_code == 302
    kind = OperationKind.objects.get(name="Etching")
    assert kind.steps == ["mask", "blast"]
    typed = KIND | {"station": station.pk, "crew": "2"}
    assert lead_client.post(url(OperationKind, "change", kind.pk), typed).status_code == 302
    assert lead_client.post(url(OperationKind, "delete", kind.pk), {"post": "yes"}).status_code == 302
    removed, changed, added = Event.objects.all()
    assert [event.verb for event in (added, changed, removed)] == ["added", "changed", "removed"]
    assert (changed.before, changed.after) == ({"crew": 1}, {"crew": 2})
    assert added.after["station"] == "Blasting"
    assert removed.before["name"] == "Etching"
    assert {(event.account, event.why, event.subject_id) for event in Event.objects.all()} == {
        (lead, "in the admin", kind.pk)
    }
    assert revision() == start + 3


def test_a_kind_without_its_station_is_refused(lead_client: Client) -> None:
    answer = lead_client.post(url(OperationKind, "add"), KIND)
    assert answer.status_code == 200
    assert "needs its station" in answer.content.decode()
    assert not Event.objects.exists()


def test_a_kind_in_use_is_not_removed(lead_client: Client) -> None:
    kind = OperationKind.objects.get(name="Cutting")
    lead_client.post(url(OperationKind, "delete", kind.pk), {"post": "yes"})
    assert OperationKind.objects.filter(pk=kind.pk).exists()
    assert not Event.objects.exists()


def test_stations_are_found_by_typing(lead_client: Client) -> None:
    typed = {"app_label": "jobs", "model_name": "operationkind", "field_name": "station", "term": "bev"}
    answer = lead_client.get(reverse("admin:autocomplete"), typed)
    assert [row["text"] for row in answer.json()["results"]] == ["Beveling"]


# Routes, with their steps


def lines(route: Route, **changed: Any) -> dict[str, Any]:
    """The form of a route as its page would send it; `changed` by field name."""
    steps = list(route.steps.all())
    typed: dict[str, Any] = {
        "name": route.name,
        "description": "",
        "active": "on",
        "steps-TOTAL_FORMS": len(steps),
        "steps-INITIAL_FORMS": len(steps),
    }
    for number, step in enumerate(steps):
        typed |= {
            f"steps-{number}-id": step.pk,
            f"steps-{number}-route": route.pk,
            f"steps-{number}-place": step.place,
            f"steps-{number}-kind": step.kind_id,
            f"steps-{number}-label": step.label,
            f"steps-{number}-condition": step.condition,
            f"steps-{number}-after": [before.pk for before in step.after.all()],
            f"steps-{number}-minutes": step.minutes,
            f"steps-{number}-piece_minutes": step.piece_minutes,
        }
    return typed | changed


@pytest.fixture
def route(shop: None) -> Route:
    return Route.objects.get()


def test_steps_are_changed_added_and_removed_and_each_is_written_down(
    lead_client: Client, route: Route
) -> None:
    start = revision()
    cutting, _, assembly = route.steps.all()
    typed = lines(route) | {
        "steps-TOTAL_FORMS": 4,
        "steps-1-DELETE": "on",
        "steps-2-after": [cutting.pk],
        "steps-3-route": route.pk,
        "steps-3-place": 3,
        "steps-3-kind": OperationKind.objects.get(name="Cure").pk,
        "steps-3-after": [assembly.pk],
        "steps-3-minutes": 60,
        "steps-3-piece_minutes": 0,
    }
    assert lead_client.post(url(Route, "change", route.pk), typed).status_code == 302
    assert [(str(step), [str(before) for before in step.after.all()]) for step in route.steps.all()] == [
        ("Cutting", []),
        ("Assembly", ["Cutting"]),
        ("Cure", ["Assembly"]),
    ]
    events = {event.verb: event for event in Event.objects.filter(subject="routestep")}
    assert set(events) == {"removed", "changed", "added"}
    assert events["removed"].before["kind"] == "Beveling"
    assert (events["changed"].before, events["changed"].after) == (
        {"after": ["Beveling"]},
        {"after": ["Cutting"]},
    )
    assert events["added"].after["minutes"] == 60
    assert revision() > start


def test_steps_that_wait_for_each_other_are_refused(lead_client: Client, route: Route) -> None:
    assembly = route.steps.get(kind__name="Assembly")
    typed = lines(route, **{"steps-0-after": [assembly.pk]})
    answer = lead_client.post(url(Route, "change", route.pk), typed)
    assert answer.status_code == 200
    assert "none of them could ever start" in answer.content.decode()
    assert not Event.objects.exists()
    assert not route.steps.get(kind__name="Cutting").after.exists()


def test_a_step_comes_only_after_steps_of_its_own_route(lead_client: Client, route: Route) -> None:
    other = RouteStep.objects.create(
        route=Route.objects.create(name="Other"), kind=OperationKind.objects.get(name="Cure")
    )
    answer = lead_client.post(url(Route, "change", route.pk), lines(route, **{"steps-0-after": [other.pk]}))
    assert answer.status_code == 200
    assert "Select a valid choice" in answer.content.decode()


def test_a_save_that_changes_nothing_is_not_written(lead_client: Client, route: Route) -> None:
    start = revision()
    assert lead_client.post(url(Route, "change", route.pk), lines(route)).status_code == 302
    assert not Event.objects.exists()
    assert revision() == start


def test_list_actions_are_written_down_as_well(lead_client: Client, route: Route) -> None:
    other, start = Route.objects.create(name="Other", active=False), revision()
    typed = {"action": "put_out_of_use", "_selected_action": [route.pk, other.pk]}
    lead_client.post(url(Route, "changelist"), typed)
    [event] = Event.objects.all()
    assert (event.subject_id, event.before, event.after) == (route.pk, {"active": True}, {"active": False})
    assert revision() == start + 1
    lead_client.post(url(Route, "changelist"), typed | {"action": "put_in_use"})
    assert set(Route.objects.values_list("active", flat=True)) == {True}
    typed |= {"action": "delete_selected", "post": "yes"}
    lead_client.post(url(Route, "changelist"), typed)
    assert not Route.objects.exists()
    assert Event.objects.filter(verb="removed", subject="route").count() == 2
    assert revision() == start + 1 + 2 + 2


def test_what_fails_half_way_leaves_nothing(
    lead_client: Client, route: Route, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken() -> None:
        raise RuntimeError("no plan state")

    monkeypatch.setattr("jobs.admin.base.mark_out_of_date", broken)
    typed = {"action": "delete_selected", "_selected_action": [route.pk], "post": "yes"}
    with pytest.raises(RuntimeError):
        lead_client.post(url(Route, "changelist"), typed)
    assert Route.objects.filter(pk=route.pk).exists()
    assert not Event.objects.exists()


# Customers, jobs and operations


def test_a_customer_does_not_move_the_dates(lead_client: Client) -> None:
    start = revision()
    assert lead_client.post(url(Customer, "add"), {"name": "Hotel Seeblick"}).status_code == 302
    assert Event.objects.get().subject == "customer"
    assert revision() == start


def operation_form(operation: Operation, **changed: Any) -> dict[str, Any]:
    after = [row.pk for row in operation.after.all()]
    return {"label": "", "place": operation.place, "estimate": operation.estimate, "after": after} | changed


def test_an_estimate_is_corrected_and_stands_with_its_panel(full: None, lead_client: Client) -> None:
    start, before = revision(), Event.objects.count()
    cutting = Operation.objects.get(kind__name="Cutting")
    typed = operation_form(cutting, estimate=120, keeper=cast.person("Mara").pk)
    assert lead_client.post(url(Operation, "change", cutting.pk), typed).status_code == 302
    cutting.refresh_from_db()
    # Who has it on the bench is for the bench to say.
    assert (cutting.estimate, cutting.keeper) == (120, None)
    event = Event.objects.first()
    assert (event.before, event.after, event.panel) == ({"estimate": 90}, {"estimate": 120}, cutting.panel)
    assert (Event.objects.count(), revision()) == (before + 1, start + 1)


def test_operations_that_wait_for_each_other_are_refused(full: None, lead_client: Client) -> None:
    cutting, assembly = (Operation.objects.get(kind__name=name) for name in ("Cutting", "Assembly"))
    typed = operation_form(cutting, after=[assembly.pk])
    answer = lead_client.post(url(Operation, "change", cutting.pk), typed)
    assert answer.status_code == 200
    assert "none of them could ever start" in answer.content.decode()
    assert not cutting.after.exists()


def test_a_job_is_neither_made_nor_deleted_here(full: None, lead_client: Client) -> None:
    for model in (Operation.job.field.related_model, Operation.panel.field.related_model, Operation):
        assert lead_client.get(url(model, "add")).status_code == 403
        row = model.objects.first()
        assert lead_client.post(url(model, "delete", row.pk), {"post": "yes"}).status_code == 403
