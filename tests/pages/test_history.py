"""Who changed what: on a page of its own by thing, person and day, as CSV, and on the page of each thing."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.actions import Actor, accounts, people, rates
from jobs.actions.base import record
from jobs.actions.holds import hold
from jobs.models import Account, Event, Job, OperationKind
from jobs.views import audit
from tests import cast
from tests.cast import at

PAGE, CSV = reverse("history"), reverse("history-csv")


@pytest.fixture
def told(lead: Account, office: Account) -> Job:
    """Four things that happened, on three days, by two people."""
    by, job = Actor(account=lead), cast.make_job("0412")
    panel, mara = cast.make_panel(job), cast.person("Mara")
    people.change_person(mara, {"hourly_cost": Decimal("31.50")}, by=by, at=at(2, "08:00"))
    hold(panel, "=cracked in the kiln", by=Actor(account=office), at=at(3, "23:30"))
    record("started", cast.operation_of(panel, "Cutting"), by=Actor(person=mara), at=at(4, "00:15"))
    people.set_pin(mara, "4711", by=by, at=at(4, "09:00"))
    return job


def page(client: Client, **asked: Any) -> str:
    answer = client.get(PAGE, asked)
    assert answer.status_code == 200
    return answer.content.decode()


def rows(client: Client, **asked: Any) -> list[dict[str, str]]:
    answer = client.get(CSV, asked)
    assert answer["Content-Type"].startswith("text/csv")
    assert "attachment" in answer["Content-Disposition"]
    text = b"".join(answer).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_all_of_it_the_newest_first(told: Job, lead_client: Client) -> None:
    text = page(lead_client)
    assert (
        text.index("Set PIN of Mara Lind")
        < text.index("Cutting of Light 1")
        < text.index("Mara Lind</strong> changed")
    )
    assert "<del>30.00</del> → <ins>31.50</ins>" in text
    assert told.get_absolute_url() in text
    assert "Nora Feld" in text


@pytest.mark.parametrize(
    ("asked", "verbs"),
    [
        ({"job": "0412"}, ["held", "started"]),
        ({"job": "0412", "panel": 2}, []),
        ({"subject": "person"}, ["changed", "set PIN of"]),
        ({"subject": "operation"}, ["started"]),
        # On the studio's clock, where the 4th has begun.
        ({"first": "2026-03-04"}, ["started", "set PIN of"]),
        ({"first": "2026-03-03", "last": "2026-03-03"}, ["held"]),
        ({"last": "2026-03-02"}, ["changed"]),
    ],
)
def test_what_is_looked_for_alone(
    told: Job, lead_client: Client, asked: dict[str, Any], verbs: list[str]
) -> None:
    assert [row["done"] for row in rows(lead_client, **asked)] == verbs
    text = page(lead_client, **asked)
    assert ("Nothing was written down" in text) == (not verbs)


def test_by_person_account_and_number(told: Job, lead_client: Client, office: Account) -> None:
    mara = cast.person("Mara")
    assert [row["done"] for row in rows(lead_client, person=mara.pk)] == ["changed", "started", "set PIN of"]
    assert [row["done"] for row in rows(lead_client, account=office.pk)] == ["held"]
    assert len(rows(lead_client, subject="person", number=mara.pk)) == 2
    assert rows(lead_client, subject="person", number=mara.pk + 100) == []


def test_the_file_has_who_when_before_after_and_why(told: Job, lead_client: Client) -> None:
    first, second, *_ = rows(lead_client)
    assert (first["at"], first["account"], first["table"]) == ("2026-03-02T08:00:00+01:00", "lead", "person")
    assert (first["before"], first["after"]) == ('{"hourly_cost": "30.00"}', '{"hourly_cost": "31.50"}')
    assert (second["job"], second["panel"]) == ("0412", "0412/1")
    assert "'=cracked" in (second["why"], second["after"])[0] or "=cracked" in second["after"]
    assert all(
        not cell.startswith(("=", "+", "-", "@")) for row in rows(lead_client) for cell in row.values()
    )


def test_pages_follow_one_another(told: Job, lead_client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(audit, "SHOWN", 2)
    text = page(lead_client, subject="person")
    assert "Older" not in text
    text = page(lead_client)
    assert "The newest" not in text
    third = Event.objects.order_by("-pk")[1].pk
    assert f"before={third}" in text
    older = page(lead_client, before=third)
    assert "held" in older
    assert "Set PIN of" not in older
    assert "The newest" in older


def test_many_events_take_as_many_queries_as_few(told: Job, lead_client: Client) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            page(lead_client)
        return len(caught)

    page(lead_client)
    few = queries()
    for number in range(20):
        panel = cast.make_panel(cast.make_job(f"05{number:02d}"))
        record("counted", cast.operation_of(panel, "Cutting"), by=Actor(), at=at(5))
    assert queries() == few


@pytest.mark.parametrize(
    "wrong",
    [{"first": "2026-03-04", "last": "2026-03-02"}, {"first": "x"}, {"last": "0001-01-01"}, {"number": "0"}],
)
def test_what_is_asked_wrong_is_told(told: Job, lead_client: Client, wrong: dict[str, str]) -> None:
    for address in (PAGE, CSV):
        answer = lead_client.get(address, wrong)
        assert answer.status_code == 422
        assert "Nothing was looked for." in answer.content.decode()


def test_nobody_else_reads_it(told: Job, office_client: Client, tablet_client: Client) -> None:
    for client in (office_client, tablet_client):
        assert client.get(PAGE).status_code == client.get(CSV).status_code == 403
    assert office_client.post(PAGE).status_code == 405


# On the page of each thing


def test_a_person_shows_what_was_changed_of_them(told: Job, lead_client: Client) -> None:
    text = lead_client.get(reverse("set-up-person", args=[cast.person("Mara").pk])).content.decode()
    assert "Set PIN of Mara Lind" in text
    assert "<ins>31.50</ins>" in text
    assert "cracked" not in text


def test_an_account_shows_what_was_changed_of_it(lead: Account, office: Account, lead_client: Client) -> None:
    accounts.change_account(office, {"first_name": "Emilia"}, by=Actor(account=lead), at=at(3))
    text = lead_client.get(reverse("set-up-account", args=[office.pk])).content.decode()
    assert "<del>Emil</del> → <ins>Emilia</ins>" in text
    assert "Nora Feld" in text


def test_a_kind_shows_what_was_changed_of_its_rates(
    lead: Account, lead_client: Client, office_client: Client
) -> None:
    kind = OperationKind.objects.get(name="Beveling")
    rates.set_rate(
        kind,
        step="",
        driver="joint",
        minutes=Decimal(12),
        since=None,
        note="measured",
        by=Actor(account=lead),
        at=at(3),
    )
    for client in (lead_client, office_client):
        text = client.get(reverse("rate", args=[kind.slug])).content.decode()
        assert "Set a rate of Beveling" in text
        assert "measured" in text


def test_a_long_history_is_shown_whole_where_it_is_asked_for(lead: Account, lead_client: Client) -> None:
    mara = cast.person("Mara")
    for day in range(25):
        people.add_day_off(mara, date(2026, 6, 1) + timedelta(days=day), by=Actor(account=lead), at=at(3))
    address = reverse("set-up-person", args=[mara.pk])
    assert lead_client.get(address).content.decode().count("Gave days off to Mara Lind") == 20
    assert (
        lead_client.get(f"{address}?history=all").content.decode().count("Gave days off to Mara Lind") == 25
    )
