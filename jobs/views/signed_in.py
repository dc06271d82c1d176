"""Who is signed in, as each request finds it: the session's row, the account with what it may do, and the tablet.

Two queries a request, and neither is put together anew. The account is read as Django's own `get_user` reads it, with
its permissions in the same query; a session that belongs to a tablet is only good beside the tablet's secret.
"""

from functools import partial
from typing import Any

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.auth.middleware import AuthenticationMiddleware
from django.contrib.auth.models import AnonymousUser
from django.contrib.sessions.middleware import SessionMiddleware
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.functional import SimpleLazyObject

from jobs.models import Account, SignedIn, Tablet
from jobs.models.permissions import with_granted
from jobs.models.prepared import Prepared
from jobs.models.signed_in import SEEN_EVERY
from jobs.views.throttle import address_of

TABLET_COOKIE: str = settings.TABLET_COOKIE_NAME
# The longest that browsers keep a cookie; it is given anew whenever the tablet is seen.
TABLET_COOKIE_AGE = 60 * 60 * 24 * 400
# Screens ask these by themselves, while somebody may sign in or out beside them.
ASKED_BY_ITSELF = ("/pulse/", "/bench/-/outbox/")

_ACCOUNT = Prepared(lambda pk: with_granted(Account.objects.filter(pk=pk, is_active=True)))


class Sessions(SessionMiddleware):
    """Django's own, but that an answer to a screen that asks by itself takes no cookie away: it may have asked with the
    session of before, and would sign out who has just signed in."""

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        if request.path_info in ASKED_BY_ITSELF and request.session.is_empty():
            return response
        return super().process_response(request, response)


class SignedInMiddleware(AuthenticationMiddleware):
    """request.user, and when a session was last seen: written down every few minutes, after the answer is made."""

    def process_request(self, request: HttpRequest) -> None:
        request.session.about = partial(_about, request)  # type: ignore[attr-defined]
        request.user = SimpleLazyObject(lambda: _once(request))  # type: ignore[assignment]

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        row = getattr(request.session, "row", None)
        found = getattr(request, "_cached_user", None)
        if row is None or row.account_id is None or not isinstance(found, Account):
            return response
        now = timezone.now()
        if now - row.seen > SEEN_EVERY:
            SignedIn.objects.filter(pk=row.pk).update(seen=now, **_about(request))
            if row.tablet_id:
                Tablet.objects.filter(pk=row.tablet_id).update(seen=now)
                give_secret(response, request.COOKIES[TABLET_COOKIE])
        return response


def give_secret(response: HttpResponse, secret: str) -> None:
    """The secret of a tablet, where no script reads it and no other site has it sent."""
    response.set_cookie(
        TABLET_COOKIE,
        secret,
        max_age=TABLET_COOKIE_AGE,
        httponly=True,
        secure=settings.SESSION_COOKIE_SECURE,
        samesite="Lax",
    )


def _about(request: HttpRequest) -> dict[str, Any]:
    """From where, and with what: as told, and cut to what a row holds."""
    return {"address": address_of(request) or None, "agent": request.headers.get("User-Agent", "")[:300]}


def _once(request: HttpRequest) -> Account | AnonymousUser:
    if not hasattr(request, "_cached_user"):
        request._cached_user = _account_of(request) or AnonymousUser()  # type: ignore[attr-defined]
    found: Account | AnonymousUser = request._cached_user  # type: ignore[attr-defined]
    return found


def _account_of(request: HttpRequest) -> Account | None:
    """Whose session it is; None where its account has ended, has another password now, or it is not this tablet's."""
    session: Any = request.session
    if SESSION_KEY not in session or session.get(BACKEND_SESSION_KEY) not in settings.AUTHENTICATION_BACKENDS:
        return None
    account: Account | None = _ACCOUNT.first(int(session[SESSION_KEY]))
    tablet = session.row.tablet if getattr(session, "row", None) else None
    if tablet is not None and not tablet.holds(request.COOKIES.get(TABLET_COOKIE, "")):
        return None
    if account is None or tablet is not None:
        # The secret of the tablet stands in for the password, which may be another by now.
        return account
    told = session.get(HASH_SESSION_KEY, "")
    known = account.get_session_auth_hash()
    if constant_time_compare(told, known):
        return account
    if any(constant_time_compare(told, old) for old in account.get_session_auth_fallback_hash()):
        # The key of the installation has changed, not the password. The session keeps its own, for who asks meanwhile.
        session[HASH_SESSION_KEY] = known
        return account
    session.flush()
    return None
