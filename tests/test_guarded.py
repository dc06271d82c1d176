"""What every answer carries for its browser, how cookies are set behind TLS, and what is written of who is refused."""

import logging
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import Account
from tests import cast
from tests.test_settings import in_a_process, policy, read

PAGES = ["/", "/jobs/", "/jobs/0412/", "/set-up/people/", "/nowhere/", "/admin/", "/hours/"]


@pytest.fixture
def told(caplog: Any) -> Any:
    caplog.set_level(logging.INFO, "jobs.security")
    return lambda: [record.getMessage() for record in caplog.records if record.name == "jobs.security"]


@pytest.mark.parametrize("page", PAGES)
def test_pages_of_who_is_signed_in_are_kept_by_no_cache(lead_client: Client, page: str) -> None:
    cast.make_job()
    answer = lead_client.get(page)
    assert "no-store" in answer["Cache-Control"] or "no-cache" in answer["Cache-Control"]
    assert "public" not in answer["Cache-Control"]
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "camera=()" in answer["Permissions-Policy"]
    assert policy(answer)["form-action"] == policy(answer)["base-uri"] == ["'self'"]


def test_behind_tls_cookies_are_of_this_host_alone(tmp_path: Path) -> None:
    names = [
        f"{one}_COOKIE_{what}"
        for one in ("SESSION", "CSRF", "LANGUAGE")
        for what in ("NAME", "SECURE", "HTTPONLY")
    ]
    found = read(tmp_path, *names, "TABLET_COOKIE_NAME", SECURE="on", ALLOWED_HOSTS="studio.example")
    for name, value in found.items():
        assert value is True or str(value).startswith("__Host-"), name
    assert not str(read(tmp_path, "SESSION_COOKIE_NAME")["SESSION_COOKIE_NAME"]).startswith("__Host-")


def test_behind_tls_browsers_are_told_to_stay_there(tmp_path: Path) -> None:
    code = (
        "import django; django.setup(); from django.test import RequestFactory as F; "
        "from django.middleware.security import SecurityMiddleware as M; from django.http import HttpResponse as R; "
        "m = M(lambda request: R()); f = F(SERVER_NAME='studio.example'); "
        "print(m(f.get('/', secure=True))['Strict-Transport-Security'], m(f.get('/'))['Location'])"
    )
    done = in_a_process(code, tmp_path, SECURE="on", ALLOWED_HOSTS="studio.example")
    assert done.stdout.split() == [
        "max-age=31536000;",
        "includeSubDomains;",
        "preload",
        "https://studio.example/",
    ]


def test_signing_out_ends_the_session_and_empties_the_cookie(lead_client: Client) -> None:
    kept = lead_client.cookies.copy()
    assert lead_client.post(reverse("sign-out")).status_code == 302
    assert not lead_client.cookies["sessionid"].value
    lead_client.cookies = kept
    assert lead_client.get("/jobs/")["Location"].startswith(reverse("sign-in"))


@pytest.mark.parametrize(
    "where", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", "\\\\e"]
)
def test_signing_in_leads_to_no_other_site(lead: Account, where: str) -> None:
    typed = {"username": "lead", "password": "long enough 1", "next": where}
    assert Client().post(reverse("sign-in"), typed)["Location"] == "/"
    language = Client().post(reverse("language"), {"language": "es", "next": where})
    assert language["Location"] == "/"


def test_who_could_not_sign_in_is_written_down_without_what_was_typed(lead: Account, told: Any) -> None:
    client = Client()
    client.post(reverse("sign-in"), {"username": "lead", "password": "wrong secret"})
    client.post(reverse("sign-in"), {"username": "my secret\npassword", "password": "x"})
    client.post(reverse("sign-in"), {"username": "lead", "password": "long enough 1"})
    client.post(reverse("sign-out"))
    words = [line.split(",")[0] for line in told()]
    assert words == [
        "sign-in failed: 'lead'",
        "sign-in failed: an unknown name",
        "signed in: 'lead'",
        "signed out: 'lead'",
    ]
    assert "secret" not in "".join(told())


def test_whom_a_page_refuses_is_written_down(tablet_client: Client, tablet: Account, told: Any) -> None:
    tablet_client.get("/set-up/")
    Client(enforce_csrf_checks=True).post(reverse("sign-in"), {"username": "a"})
    assert told() == [
        f"refused: 403 GET '/set-up/', by account {tablet.pk} from 127.0.0.1",
        "refused: 403 POST '/sign-in/', by nobody from 127.0.0.1",
    ]


def test_an_error_shows_nothing_of_the_inside(lead_client: Client, monkeypatch: Any) -> None:
    def broken(*_: Any) -> None:
        raise RuntimeError("the inside of it")

    monkeypatch.setattr("jobs.views.jobs.render", broken)
    lead_client.raise_request_exception = False
    answer = lead_client.get("/jobs/")
    assert answer.status_code == 500
    text = answer.content.decode()
    assert "the inside" not in text
    assert "Traceback" not in text
