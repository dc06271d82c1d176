from typing import Any

from django.http import HttpRequest


def studio(request: HttpRequest) -> dict[str, Any]:
    """The studio's row and the time of the request, for every template."""
    return {"studio": getattr(request, "studio", None), "now": getattr(request, "now", None)}
