"""Which language a page speaks: the one chosen on this tablet, or else the one its browser asks for."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers

# The pages whose words are translated as a whole; a page that were half so would be worse than one that is not.
TRANSLATED = ("/bench/", "/sign-in/", "/pair/")


class LanguageMiddleware:
    """Like Django's LocaleMiddleware, for the pages that are translated; all others speak the studio's own language."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not is_translated(request):
            return self.get_response(request)
        language = language_of(request)
        with translation.override(language):
            response = self.get_response(request)
        response.headers.setdefault("Content-Language", language)
        patch_vary_headers(response, ["Accept-Language", "Cookie"])
        return response


def is_translated(request: HttpRequest) -> bool:
    """Pages of benches, the way in to them, and the photos that are looked at from a bench."""
    path = request.path_info
    return path.startswith(TRANSLATED) or (path.startswith("/photos/") and "bench" in request.GET)


def language_of(request: HttpRequest) -> str:
    """One of settings.BENCH_LANGUAGES: by the cookie of the tablet, else by what its browser asks for."""
    found = translation.get_language_from_request(request)
    return next(
        (code for code, _ in settings.BENCH_LANGUAGES if found.split("-")[0] == code), settings.LANGUAGE_CODE
    )
