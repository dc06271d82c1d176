"""What every answer carries for the safety of its browser, and what is written down of who was turned away.

Changes of permissions, passwords and tablets are events, which the database keeps; here is what has no row: who could
not sign in, who signed in and out, and whom a page refused. What somebody typed stands in no log.
"""

import logging
from collections.abc import Callable
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse

from jobs.models import Account
from jobs.views.throttle import address_of

logger = logging.getLogger("jobs.security")
REFUSALS = {401, 403, 429}
# Nothing of ours uses any of these; photos are taken by the tablet's own program, through a form.
POLICY = "camera=(), display-capture=(), geolocation=(), microphone=(), payment=(), usb=()"


class GuardedMiddleware:
    """Pages and papers of who is signed in are kept by no cache; what a view says about its own stays."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.setdefault("Permissions-Policy", POLICY)
        response.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        response.setdefault("Cache-Control", "no-store, private")
        if response.status_code in REFUSALS:
            _log("refused", request, f"{response.status_code} {request.method} {request.path_info!r}")
        return response


@receiver(user_login_failed)
def _failed(credentials: dict[str, Any], request: HttpRequest | None = None, **_: Any) -> None:
    # The name is only told where there is such an account: it may be a password, typed into the wrong field.
    name = str(credentials.get("username", ""))[:150]
    known = "\0" not in name and Account.objects.filter(username=name).exists()
    _log("sign-in failed", request, repr(name) if known else "an unknown name")


@receiver(user_logged_in)
def _in(request: HttpRequest, user: Account, **_: Any) -> None:
    _log("signed in", request, repr(user.get_username()), logging.INFO)


@receiver(user_logged_out)
def _out(request: HttpRequest, user: Account | None, **_: Any) -> None:
    _log("signed out", request, repr(user.get_username()) if user else "nobody", logging.INFO)


def _log(what: str, request: HttpRequest | None, about: str, level: int = logging.WARNING) -> None:
    user = getattr(request, "user", None)
    who = f"account {user.pk}" if user is not None and user.is_authenticated else "nobody"
    address = address_of(request) if request is not None else ""
    logger.log(level, "%s: %s, by %s from %s", what, about, who, address or "an unknown address")
