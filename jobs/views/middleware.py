"""What every request carries: the time it came, the studio's row and its time zone, and who acts."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from django_htmx.middleware import HtmxDetails

from jobs.actions import Actor
from jobs.models import Account, Studio

MOST_KEY = 2**63 - 1


class StudioRequest(HttpRequest):
    """A request as StudioMiddleware leaves it; for type hints."""

    now: datetime
    studio: Studio
    actor: Actor
    user: Account
    htmx: HtmxDetails


class StudioMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\0" in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            # No text that a database keeps holds it, so that nothing can be meant by it.
            raise Http404
        request.now = timezone.now()  # type: ignore[attr-defined]
        studio = Studio.current()
        request.studio = studio  # type: ignore[attr-defined]
        request.actor = SimpleLazyObject(lambda: _actor(request))  # type: ignore[attr-defined]
        with timezone.override(studio.zone):
            response = self.get_response(request)
        # By this a tablet whose clock is wrong knows when something happened: milliseconds since 1970. Pages that open
        # by a secret link say no more than they must.
        if not request.path.startswith("/c/"):
            now = request.now  # type: ignore[attr-defined]
            response.headers["X-Studio-Time"] = str(int(now.timestamp() * 1000))
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]) -> None:
        """An address may name any number; no row has a key beyond this, and no database would even look for it."""
        if any(isinstance(value, int) and value > MOST_KEY for value in kwargs.values()):
            raise Http404


def _actor(request: HttpRequest) -> Actor:
    user = request.user
    return Actor(account=user if isinstance(user, Account) else None)
