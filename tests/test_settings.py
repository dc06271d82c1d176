"""Settings are safe where nothing is said, and safer still behind TLS."""

import json
import os
import re
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

ROOT = Path(__file__).resolve().parent.parent


def in_a_process(code: str, var: Path, **values: str) -> subprocess.CompletedProcess[str]:
    """Run with an environment that says only what is given here, and the planner's kernel as it is compiled here."""
    names = ("PATH", "HOME", "LANG", "NUMBA_CACHE_DIR")
    kept = {name: os.environ[name] for name in names if name in os.environ}
    environment = kept | {"DJANGO_SETTINGS_MODULE": "studio.settings", "VAR_DIR": str(var)} | values
    return subprocess.run(
        [sys.executable, "-c", code], env=environment, cwd=ROOT, capture_output=True, text=True, check=False
    )


def read(var: Path, *names: str, **values: str) -> dict[str, object]:
    code = (
        f"import json; from django.conf import settings; "
        f"print(json.dumps({{name: getattr(settings, name) for name in {names!r}}}))"
    )
    done = in_a_process(code, var, **values)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_what_is_not_said_is_safe(tmp_path: Path) -> None:
    found = read(tmp_path, "DEBUG", "DEMO", "ALLOWED_HOSTS", "SESSION_COOKIE_HTTPONLY", "X_FRAME_OPTIONS")
    assert found == {
        "DEBUG": False,
        "DEMO": False,
        "ALLOWED_HOSTS": ["127.0.0.1", "localhost", "[::1]"],
        "SESSION_COOKIE_HTTPONLY": True,
        "X_FRAME_OPTIONS": "DENY",
    }


def test_the_secret_key_is_made_on_first_run_and_kept(tmp_path: Path) -> None:
    first = read(tmp_path, "SECRET_KEY")
    path = tmp_path / "secret.key"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert first["SECRET_KEY"] == path.read_text() == read(tmp_path, "SECRET_KEY")["SECRET_KEY"]
    assert read(tmp_path, "SECRET_KEY", SECRET_KEY="given")["SECRET_KEY"] == "given"


def test_behind_tls_cookies_travel_encrypted_only(tmp_path: Path) -> None:
    names = (
        "SESSION_COOKIE_SECURE",
        "CSRF_COOKIE_SECURE",
        "SECURE_SSL_REDIRECT",
        "SECURE_HSTS_SECONDS",
        "ALLOWED_HOSTS",
    )
    assert read(tmp_path, *names, SECURE="on", ALLOWED_HOSTS="studio.example") == {
        "SESSION_COOKIE_SECURE": True,
        "CSRF_COOKIE_SECURE": True,
        "SECURE_SSL_REDIRECT": True,
        "SECURE_HSTS_SECONDS": 31_536_000,
        "ALLOWED_HOSTS": ["studio.example"],
    }
    assert read(tmp_path, "SESSION_COOKIE_SECURE", "SECURE_HSTS_SECONDS") == {
        "SESSION_COOKIE_SECURE": False,
        "SECURE_HSTS_SECONDS": 0,
    }


def test_a_proxys_word_is_believed_only_when_there_is_one(tmp_path: Path) -> None:
    assert not hasattr(settings, "SECURE_PROXY_SSL_HEADER") or settings.SECURE_PROXY_SSL_HEADER is None
    assert read(tmp_path, "SECURE_PROXY_SSL_HEADER", BEHIND_PROXY="on") == {
        "SECURE_PROXY_SSL_HEADER": ["HTTP_X_FORWARDED_PROTO", "https"]
    }


def test_the_check_for_deployment_finds_nothing(tmp_path: Path) -> None:
    code = (
        "import sys; from django.core.management import execute_from_command_line as run; "
        "run(['manage.py', 'check', '--deploy', '--fail-level', 'WARNING'])"
    )
    done = in_a_process(code, tmp_path, SECURE="on", ALLOWED_HOSTS="studio.example")
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout
    assert in_a_process(code, tmp_path, ALLOWED_HOSTS="studio.example").returncode != 0


def test_the_addresses_are_known_without_the_compiler_of_the_planner(tmp_path: Path) -> None:
    """It is loaded by whoever runs the floor; a server that starts does not wait for it."""
    code = (
        "import sys, django; django.setup(); import studio.urls; "
        "print({'numba', 'scipy', 'weasyprint', 'ninja'} & set(sys.modules))"
    )
    done = in_a_process(code, tmp_path)
    assert done.stdout.strip() == "set()", done.stderr


def policy(answer: object) -> dict[str, list[str]]:
    parts = [part.split() for part in answer["Content-Security-Policy"].split(";")]
    return {name: values for name, *values in parts}


@pytest.mark.parametrize("address", ["/sign-in/", "/set-up/", "/admin/", "/nowhere/", "/set-up/people/"])
def test_every_answer_carries_the_headers(lead_client: Client, address: str) -> None:
    answer = (Client() if address == "/sign-in/" else lead_client).get(address)
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    found = policy(answer)
    assert found["default-src"] == ["'self'"]
    assert found["object-src"] == found["frame-ancestors"] == ["'none'"]
    assert not [
        word for values in found.values() for word in values if word.startswith("'unsafe") or word == "*"
    ]


def test_scripts_written_into_a_page_need_the_nonce_of_that_answer(shop: None) -> None:
    nonces = []
    for _ in range(2):
        answer = Client().get("/sign-in/")
        [nonce] = re.findall(r"'nonce-([^']+)'", " ".join(policy(answer)["script-src"]))
        text = answer.content.decode()
        inline = re.findall(r"<script(?![^>]*\bsrc=)([^>]*)>", text)
        assert all(f'nonce="{nonce}"' in attributes for attributes in inline)
        assert not re.findall(r"<[^>]+\s(?:style|on\w+)=", text)
        nonces.append(nonce)
    assert nonces[0] != nonces[1]


def test_another_host_is_refused(shop: None) -> None:
    assert Client().get("/sign-in/", headers={"host": "elsewhere.example"}).status_code == 400
    assert Client().get("/sign-in/", headers={"host": "localhost"}).status_code == 200


def test_the_session_cookie_is_out_of_reach_of_scripts(lead: object) -> None:
    client = Client()
    client.post(reverse("sign-in"), {"username": "lead", "password": "long enough 1"})
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"


def test_a_post_without_the_token_is_refused(lead: object) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(lead, backend="django.contrib.auth.backends.ModelBackend")
    assert client.post(reverse("set-up-people"), {"name": "Otto"}).status_code == 403
