"""Pages that a secret link opens, without signing in: who may, how often, and what is said to everybody else.

A wrong, an expired and a revoked link get one and the same answer. Nothing that these pages send may be kept, found by
a search engine or told to another site.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.db.models import Model
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone, translation
from django.utils.cache import patch_vary_headers

from jobs.actions.throttle import count, counted
from jobs.models import CustomerLink
from jobs.models.customer_links import digest_of
from jobs.views.middleware import StudioRequest
from jobs.views.throttle import household_of

MINUTE = 60
# A page of ours needs no more than two requests; a whole household may look at once.
MOST_A_MINUTE = 60
# Beside the page come its pictures, as many as the studio shares.
MOST_PICTURES = 400
GUESS_SPAN = 10 * MINUTE
MOST_GUESSES = 20

HEADERS = {
    "Cache-Control": "no-store, private",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive, nosnippet",
}

View = Callable[..., HttpResponse]


def closed_to(response: HttpResponse) -> HttpResponse:
    """The response with what keeps it out of caches, search engines and other sites' records."""
    for name, value in HEADERS.items():
        response.setdefault(name, value)
    return response


def nothing_here(request: StudioRequest) -> HttpResponse:
    """What every link that opens nothing gets, whatever the reason."""
    return render(request, "customer/gone.html", status=404)


def by_link(view: View) -> View:
    """Open a view with the link whose token is in the address. Asking too often, or guessing, gets 429."""
    return opened_by(_customer_link)(view)


def picture_by_link(view: View) -> View:
    """As by_link, for a picture on a page: it is counted apart, since a page has many."""
    return opened_by(_customer_link, of="picture-", most=MOST_PICTURES)(view)


def _customer_link(request: StudioRequest, token: str) -> CustomerLink | None:
    return CustomerLink.objects.opened_by(token, timezone.localdate(request.now))


Find = Callable[[StudioRequest, str], Model | None]


def opened_by(find: Find, of: str = "", most: int = MOST_A_MINUTE) -> Callable[[View], View]:
    """Open a view with what `find` finds by the token in the address, with the same answers whatever it is, in the
    language of the browser where there are words in it.

    `most`: how often what is counted together as `of` may be asked for in a minute.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def checked(request: StudioRequest, token: str, *args: Any, **kwargs: Any) -> HttpResponse:
            asked = translation.get_language_from_request(request)
            language = settings.LANGUAGE_CODE if asked in settings.BENCH_ONLY else asked
            with translation.override(language):
                refused, found = _find(find, request, token, of, most)
                response = closed_to(refused or view(request, found, *args, **kwargs))
            response.setdefault("Content-Language", language)
            patch_vary_headers(response, ["Accept-Language"])
            return response

        checked.by_link = True  # type: ignore[attr-defined]  # Read by the test that walks all routes.
        return checked

    return decorate


def _find(
    find: Find, request: StudioRequest, token: str, of: str, most: int
) -> tuple[HttpResponse | None, Model | None]:
    """What the token opens, or else the answer to who asked."""
    household = household_of(request)
    guesses = {f"guess:{household}": GUESS_SPAN}
    # A token that does not exist is counted like one that does: the count tells nothing about it.
    asks = {f"{of}address:{household}": MINUTE, f"{of}token:{digest_of(token)}": MINUTE}
    before = counted(asks | guesses, at=request.now)
    guessed = max(before[what] for what in guesses) >= MOST_GUESSES
    # Who has asked too often already costs a look and no writing.
    if guessed or max(before[what] for what in asks) >= most:
        return _too_often(request, GUESS_SPAN if guessed else MINUTE), None
    if max(count(asks, at=request.now).values()) > most:
        return _too_often(request, MINUTE), None
    link = find(request, token)
    if link is None:
        count(guesses, at=request.now)
        return nothing_here(request), None
    return None, link


def _too_often(request: StudioRequest, seconds: int) -> HttpResponse:
    response = render(request, "customer/often.html", status=429)
    response["Retry-After"] = str(seconds)
    return response
