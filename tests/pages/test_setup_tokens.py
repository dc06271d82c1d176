"""Set-up: tokens for other programs, made, shown once, and revoked by the lead."""

import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor, Refused
from jobs.actions.api_tokens import make_token, note_used, revoke_token
from jobs.models import Account, ApiToken, Event
from tests.cast import at

PAGE = reverse("set-up-tokens")
DAY = date(2026, 9, 1)


def by(account: Account) -> Actor:
    return Actor(account=account)


def typed(**changed: Any) -> dict[str, Any]:
    return {
        "name": "the books",
        "scope": "office",
        "last_day": timezone.now().date() + timedelta(days=90),
    } | changed


def test_a_token_is_made_shown_once_and_reads(lead_client: Client, lead: Account, client: Client) -> None:
    answer = lead_client.post(PAGE, typed())
    [token] = re.findall(r'value="(studio_[\w-]{40,})"', answer.content.decode())
    assert "no-store" in answer["Cache-Control"]
    row = ApiToken.objects.get()
    assert (row.name, row.scope, row.made_by) == ("the books", "office", lead)
    assert token not in lead_client.get(PAGE).content.decode()
    assert client.get("/api/v1/people", headers={"Authorization": f"Bearer {token}"}).status_code == 200
    assert "never" not in lead_client.get(PAGE).content.decode()
    event = Event.objects.get(subject="apitoken")
    assert (event.verb, event.account, event.after["scope"]) == ("made", lead, "office")
    assert lead_client.post(reverse("set-up-token-revoke", args=[row.pk])).status_code == 302
    assert client.get("/api/v1/people", headers={"Authorization": f"Bearer {token}"}).status_code == 401
    assert "revoked" in lead_client.get(PAGE).content.decode()


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"name": ""}, "This field is required"),
        ({"name": "   "}, "This field is required"),
        ({"scope": "all"}, "Select a valid choice"),
        ({"last_day": "2026-01-01"}, "That day is over."),
        ({"last_day": "2999-01-01"}, "A token reads for two years at most."),
    ],
)
def test_what_is_typed_wrong_is_told_and_kept(
    lead_client: Client, wrong: dict[str, str], sentence: str
) -> None:
    answer = lead_client.post(PAGE, typed(**{"name": "the wall"} | wrong))
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    if "name" not in wrong:
        assert 'value="the wall"' in answer.content.decode()
    assert not ApiToken.objects.exists()


def test_only_the_lead_gives_and_revokes(lead: Account, office: Account, office_client: Client) -> None:
    assert office_client.post(PAGE, typed()).status_code == 403
    row, _ = make_token("books", "floor", DAY, by=by(lead), at=at(2))
    for actor in (by(office), Actor()):
        with pytest.raises(Refused, match="Only who keeps accounts"):
            make_token("books", "floor", DAY, by=actor, at=at(2))
        with pytest.raises(Refused, match="Only who keeps accounts"):
            revoke_token(row, by=actor, at=at(2))


def test_each_refusal_of_the_action(lead: Account) -> None:
    for name, scope, day, sentence in (
        (" ", "floor", DAY, "60 letters"),
        ("x" * 61, "floor", DAY, "60 letters"),
        ("books", "all", DAY, "Choose what"),
        ("books", "floor", date(2026, 3, 1), "is over"),
        ("books", "floor", date(2028, 3, 9), "two years"),
    ):
        with pytest.raises(Refused, match=sentence):
            make_token(name, scope, day, by=by(lead), at=at(2))


def test_what_is_revoked_is_not_revoked_again(lead: Account, lead_client: Client) -> None:
    row, _ = make_token("books", "floor", DAY, by=by(lead), at=at(2))
    revoke_token(row, by=by(lead), at=at(3))
    with pytest.raises(Refused, match="revoked already"):
        revoke_token(row, by=by(lead), at=at(4))
    answer = lead_client.post(reverse("set-up-token-revoke", args=[row.pk]), follow=True)
    assert "revoked already" in answer.content.decode()
    assert Event.objects.filter(subject="apitoken", verb="revoked").count() == 1


def test_use_is_noted_within_a_minute(lead: Account) -> None:
    row, _ = make_token("books", "floor", DAY, by=by(lead), at=at(2))
    for clock, kept in (("08:00", "08:00"), ("08:01", "08:00"), ("08:02", "08:02")):
        note_used(row, at=at(3, clock))
        row.refresh_from_db()
        assert row.last_used_at == at(3, kept)


@pytest.mark.parametrize(
    "wrong", [{"scope": "all"}, {"name": ""}, {"digest": "1" * 64}, {"revoked_at": at(3)}], ids=str
)
def test_what_the_database_itself_refuses(lead: Account, wrong: dict[str, Any]) -> None:
    given = {"name": "books", "digest": "0" * 64, "made_at": at(2), "made_by": lead, "last_day": DAY}
    ApiToken.objects.create(**given | {"digest": "1" * 64})
    with pytest.raises(IntegrityError), transaction.atomic():
        ApiToken.objects.create(**given | wrong)
