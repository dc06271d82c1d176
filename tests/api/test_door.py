"""Who is let in with a token, and how often."""

import subprocess
import sys
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.api_tokens import revoke_token
from jobs.api import door
from jobs.models import Account, ApiToken, Asked, Event
from jobs.models.customer_links import digest_of
from jobs.views.by_link import MOST_GUESSES
from tests.api.conftest import Ask


def test_a_token_opens_and_its_use_is_told(ask: Ask) -> None:
    row = ApiToken.objects.get()
    assert row.last_used_at is None
    answer = ask("jobs")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("application/json")
    assert "no-store" in answer["Cache-Control"]
    row.refresh_from_db()
    first = row.last_used_at
    assert first is not None
    ask("jobs")
    row.refresh_from_db()
    assert row.last_used_at == first  # Not each use is a write.


def test_the_token_itself_is_kept_nowhere(token: str) -> None:
    row = ApiToken.objects.get()
    assert token not in {str(getattr(row, field.attname)) for field in ApiToken._meta.concrete_fields}
    assert row.digest == digest_of(token)
    assert token not in str(Event.objects.get(subject="apitoken").after)


@pytest.mark.parametrize(
    "shown", ["", "Bearer", "Bearer ", "Bearer studio_wrong", "Basic bGVhZDpsZWFk", "Token x"]
)
def test_what_opens_nothing_gets_one_answer(client: Client, token: str, shown: str) -> None:
    for path in ("jobs", "customers", "nowhere", "openapi.json"):
        answer = client.get(f"/api/v1/{path}", headers={"Authorization": shown} if shown else {})
        assert answer.status_code == 401
        assert answer["WWW-Authenticate"].startswith("Bearer")
        assert "token" in answer.json()["detail"]


def test_no_cookie_opens_it(lead_client: Client) -> None:
    assert lead_client.get("/api/v1/jobs").status_code == 401


def test_an_expired_and_a_revoked_token_open_nothing(ask: Ask, lead: Account) -> None:
    row = ApiToken.objects.get()
    ApiToken.objects.update(last_day=timezone.now().date() - timedelta(days=2))
    assert ask("jobs").status_code == 401
    ApiToken.objects.update(last_day=timezone.now().date() + timedelta(days=2))
    assert ask("jobs").status_code == 200
    revoke_token(row, by=Actor(account=lead), at=timezone.now())
    assert ask("jobs").status_code == 401


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete", "options", "head"])
def test_nothing_is_written_here(client: Client, token: str, method: str) -> None:
    before = Event.objects.count()
    answer = getattr(client, method)("/api/v1/jobs", headers={"Authorization": f"Bearer {token}"})
    assert (answer.status_code, answer["Allow"]) == (405, "GET")
    assert Event.objects.count() == before


@pytest.mark.parametrize("path", ["nowhere", "jobs/", "jobs/1/panels", "jobs/x/y", "docs"])
def test_what_is_not_there_is_not_there(ask: Ask, path: str) -> None:
    answer = ask(path)
    assert (answer.status_code, answer.json()) == (404, {"detail": "There is nothing here."})


def test_guessing_is_stopped_also_for_who_then_guesses_right(client: Client, token: str) -> None:
    for number in range(MOST_GUESSES):
        wrong = client.get("/api/v1/jobs", headers={"Authorization": f"Bearer studio_{number}"})
        assert wrong.status_code == 401
    answer = client.get("/api/v1/jobs", headers={"Authorization": f"Bearer {token}"})
    assert answer.status_code == 429
    assert int(answer["Retry-After"]) > 0


def test_who_asks_too_often_has_to_wait(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(door, "MOST_A_MINUTE", 2)
    now = timezone.now().replace(second=5)
    monkeypatch.setattr("jobs.views.middleware.timezone.now", lambda: now)
    assert [ask("people").status_code for _ in range(4)] == [200, 200, 429, 429]
    assert Asked.objects.filter(what__startswith="api:").get().number == 4


def test_the_pages_do_not_load_the_library_of_the_api() -> None:
    """It is half a second and some megabytes; only a token that is valid loads it."""
    script = """
import sys, django
django.setup()
import jobs.urls.api
assert "jobs.api.door" in sys.modules
print(sorted(name for name in ("ninja", "pydantic") if name in sys.modules))
"""
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False,
        env={"DJANGO_SETTINGS_MODULE": "tests.settings", "PATH": ""},
    )  # fmt: skip
    assert (done.stdout.strip(), done.returncode) == ("[]", 0), done.stderr
