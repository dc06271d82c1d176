from typing import Any

from django.conf import settings
from django.http import HttpRequest

from jobs.views.workshops import shown


def studio(request: HttpRequest) -> dict[str, Any]:
    """The studio's row, the time of the request and the languages of a bench, for every template."""
    return {
        "studio": getattr(request, "studio", None),
        "now": getattr(request, "now", None),
        "bench_languages": settings.BENCH_LANGUAGES,
        **shown(request),
    }
