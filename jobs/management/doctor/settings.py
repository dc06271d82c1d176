"""The settings: who is let in, under which names, and whether mail can go out."""

import smtplib
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import mailers
from django.http.request import validate_host

from .finding import Finding, note

_LOCAL = {"127.0.0.1", "localhost", "[::1]"}


def look_at_settings() -> Iterator[Finding]:
    if settings.DEBUG:
        yield Finding(
            "DEBUG is on: whoever meets an error is shown how the program works inside. Take it out of the settings."
        )
    if settings.DEMO:
        yield Finding(
            "DEMO is on: the passwords of its accounts are told to everybody. Take it out of the settings."
        )
    yield from _hosts()
    yield from _address(
        "BASE_URL", settings.BASE_URL, "codes on papers lead to wherever the paper was asked for"
    )
    yield from _address(
        "PUBLIC_ADDRESS", settings.PUBLIC_ADDRESS, "mail carries no link to the customer's page"
    )
    if len(settings.SECRET_KEY) < 50:
        yield Finding("SECRET_KEY is short: take it out of the settings, and a good one is made and kept.")
    yield from _mail()


def _hosts() -> Iterator[Finding]:
    hosts = set(settings.ALLOWED_HOSTS)
    if "*" in hosts:
        yield Finding(
            "ALLOWED_HOSTS lets in any name: name those under which the studio's computer is reached."
        )
    elif hosts <= _LOCAL:
        yield Finding(
            "ALLOWED_HOSTS names this computer alone: no tablet and no desk reaches it. Name those under which it is "
            "reached."
        )
    if not settings.SECURE and not hosts <= _LOCAL:
        yield Finding(
            "SECURE is off: passwords and hours travel where everybody in the network can read them, and tablets "
            "keep nothing while the line is away. Put TLS in front, and set SECURE=on and BEHIND_PROXY=on."
        )
    if settings.SECURE and not settings.BEHIND_PROXY:
        yield Finding(
            "SECURE is on and BEHIND_PROXY is off: unless this program speaks TLS itself, every page leads back to "
            "itself. Set BEHIND_PROXY=on."
        )


def _address(name: str, value: str, without: str) -> Iterator[Finding]:
    if not value:
        yield note(f"{name} is not set: {without}.")
        return
    parts = urlsplit(value)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        yield Finding(f"{name} is no address: one begins with https:// and the name of this computer.")
        return
    if settings.SECURE and parts.scheme == "http":
        yield Finding(
            f"{name} begins with http://, and pages are served over https alone: write https:// there."
        )
    if not validate_host(parts.hostname, settings.ALLOWED_HOSTS):
        yield Finding(
            f"{name} leads to {parts.hostname}, which ALLOWED_HOSTS does not name: it would be refused."
        )


def _mail() -> Iterator[Finding]:
    mailer: Any = settings.MAILERS["default"]
    if not mailer["BACKEND"].endswith("smtp.EmailBackend"):
        yield note("SMTP_HOST is not set: mail is laid into files, and nobody gets it.")
        return
    if settings.MAIL_FROM.endswith("@localhost"):
        yield Finding("MAIL_FROM is not set: customers could not answer, and mail servers refuse such mail.")
    server: Any = mailers["at_once"]
    try:
        server.open()
        server.close()
    except (OSError, smtplib.SMTPException) as error:
        host = mailer["OPTIONS"]["host"]
        said = error.strerror if isinstance(error, OSError) and error.strerror else error
        yield Finding(
            f"The mail server {host} cannot be used: {said}. See SMTP_HOST, SMTP_USER and SMTP_PASSWORD."
        )
