"""Signing in and out, and one's own password."""

import pytest
from django.contrib.auth import get_user
from django.core.cache import caches
from django.test import Client
from django.urls import reverse

from jobs.models import Account, Event

PASSWORD = "long enough 1"


def sign_in(client: Client, name: str, password: str = PASSWORD, **more: str):
    return client.post(reverse("sign-in"), {"username": name, "password": password} | more)


@pytest.mark.parametrize(("who", "start"), [("lead", "/"), ("office", "/"), ("tablet", "/bench/")])
def test_after_signing_in_everybody_is_where_they_work(
    client: Client, request: pytest.FixtureRequest, who: str, start: str
) -> None:
    account = request.getfixturevalue(who)
    answer = sign_in(client, account.username)
    assert (answer.status_code, answer["Location"]) == (302, start)
    assert get_user(client) == account


def test_the_way_on_is_kept_but_never_leads_to_another_site(client: Client, lead: Account) -> None:
    page = client.get(reverse("sign-in"), {"next": "/set-up/people/"})
    assert 'name="next" value="/set-up/people/"' in page.content.decode()
    assert sign_in(client, "lead", next="/set-up/people/")["Location"] == "/set-up/people/"
    client.logout()
    assert sign_in(client, "lead", next="https://elsewhere.example/")["Location"] == "/"


def test_a_wrong_password_is_said_and_the_name_kept(client: Client, lead: Account) -> None:
    answer = sign_in(client, "lead", "wrong")
    assert answer.status_code == 422
    assert "do not go together" in answer.content.decode()
    assert 'value="lead"' in answer.content.decode()
    assert get_user(client).is_anonymous


def test_an_account_that_ended_cannot_sign_in(client: Client, office: Account) -> None:
    Account.objects.filter(pk=office.pk).update(is_active=False)
    assert sign_in(client, "office").status_code == 422


def test_too_many_tries_lock_that_name_only(client: Client, lead: Account, office: Account, settings) -> None:
    settings.AXES_ENABLED = True
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        assert sign_in(client, "lead", "wrong").status_code == 422
    locked = sign_in(client, "lead", "wrong")
    assert locked.status_code == 429
    assert "Too many tries" in locked.content.decode()
    assert sign_in(client, "lead").status_code == 429
    assert sign_in(client, "office").status_code == 302


def test_the_count_of_wrong_passwords_outlives_a_process_and_is_of_one_address(
    client: Client, lead: Account, settings
) -> None:
    settings.AXES_ENABLED = settings.BEHIND_PROXY = True
    typed = {"username": "lead", "password": "wrong"}
    for _ in range(settings.AXES_FAILURE_LIMIT):
        answer = client.post(reverse("sign-in"), typed, HTTP_X_FORWARDED_FOR="203.0.113.9")
        for cache in caches.all():
            cache.clear()
    assert answer.status_code == 429
    assert client.post(reverse("sign-in"), typed, HTTP_X_FORWARDED_FOR="198.51.100.7").status_code == 422


def test_signing_out_is_a_post(lead_client: Client) -> None:
    assert lead_client.get(reverse("sign-out")).status_code == 405
    answer = lead_client.post(reverse("sign-out"))
    assert (answer.status_code, answer["Location"]) == (302, reverse("sign-in"))
    assert get_user(lead_client).is_anonymous


def change(client: Client, old: str = PASSWORD, new: str = "cobalt and amber", again: str | None = None):
    typed = {"old_password": old, "new_password1": new, "new_password2": again or new}
    return client.post(reverse("password"), typed)


def test_ones_own_password_is_changed_and_one_stays_signed_in(office_client: Client, office: Account) -> None:
    assert office_client.get(reverse("password")).status_code == 200
    assert change(office_client).status_code == 302
    office.refresh_from_db()
    assert office.check_password("cobalt and amber")
    assert get_user(office_client) == office
    event = Event.objects.get()
    assert (event.verb, event.account, event.after) == ("set password of", office, {})


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"old": "wrong"}, "This is not your present password."),
        ({"again": "something else entirely"}, "The two do not agree."),
        ({"new": "short"}, "at least 12 characters"),
    ],
)
def test_a_bad_new_password_is_refused(office_client: Client, office: Account, typed, sentence: str) -> None:
    answer = change(office_client, **typed)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    office.refresh_from_db()
    assert office.check_password(PASSWORD)


def test_nobody_has_no_password_to_change(client: Client, shop: None) -> None:
    assert client.get(reverse("password"))["Location"].startswith(reverse("sign-in"))
