"""Who may read, and how often: a bearer token (RFC 6750), counted in the rows that all processes share.

Whatever opens nothing gets one answer: 401. Asking too often, or guessing, gets 429.
"""

from functools import cache
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from jobs.actions.api_tokens import note_used
from jobs.actions.throttle import count, counted
from jobs.models import ApiToken
from jobs.views.by_link import GUESS_SPAN, MINUTE, MOST_GUESSES
from jobs.views.middleware import StudioRequest
from jobs.views.throttle import household_of

PREFIX = "/api/v1/"
MOST_A_MINUTE = 300


class TokenRequest(StudioRequest):
    """A request as `door` lets it in; for type hints."""

    token: ApiToken


@csrf_exempt  # Nothing is written, and no cookie opens anything.
def door(request: TokenRequest, rest: str = "") -> HttpResponse:
    """Every address below PREFIX; `rest` is what follows it."""
    response = _refused(request) or _answer(request, rest)
    response.setdefault("Cache-Control", "no-store, private")
    return response


door.by_token = True  # type: ignore[attr-defined]  # Read by the test that walks all routes.


def problem(status: int, detail: str) -> JsonResponse:
    return JsonResponse({"detail": detail}, status=status)


def _refused(request: TokenRequest) -> HttpResponse | None:
    """What is answered instead; None where the request is let in, which then carries its token."""
    guesses = {f"guess:{household_of(request)}": GUESS_SPAN}
    if counted(guesses, at=request.now)[next(iter(guesses))] >= MOST_GUESSES:
        return _too_often(GUESS_SPAN)
    token = _shown(request)
    found = ApiToken.objects.opened_by(token, timezone.localdate(request.now)) if token else None
    if found is None:
        if token:
            count(guesses, at=request.now)
        refused = problem(401, "Show a token that is valid: Authorization: Bearer …")
        refused["WWW-Authenticate"] = 'Bearer realm="studio"'
        return refused
    asks = count({f"api:{found.pk}": MINUTE}, at=request.now)
    if max(asks.values()) > MOST_A_MINUTE:
        return _too_often(MINUTE)
    note_used(found, at=request.now)
    request.token = found
    if request.method != "GET":
        refused = problem(405, "Here is only read: GET.")
        refused["Allow"] = "GET"
        return refused
    return None


def _shown(request: HttpRequest) -> str:
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    return token.strip() if scheme.lower() == "bearer" else ""


def _too_often(seconds: int) -> HttpResponse:
    response = problem(429, "Too often: wait for as many seconds as Retry-After says.")
    response["Retry-After"] = str(seconds)
    return response


def _answer(request: TokenRequest, rest: str) -> HttpResponse:
    try:
        found = _routes().resolve(f"/{rest}")
        answered: HttpResponse = found.func(request, *found.args, **found.kwargs)
    except Http404:  # Also of an address that there is not.
        return problem(404, "There is nothing here.")
    return answered


@cache
def _routes() -> Any:
    from django.urls.resolvers import RegexPattern, URLResolver

    from .service import routes

    return URLResolver(RegexPattern(r"^/"), routes())
