"""How often somebody who is not signed in may ask. Counted in Django's cache, for each process of the server."""

from datetime import datetime
from ipaddress import ip_address

from django.conf import settings
from django.core.cache import caches
from django.http import HttpRequest

from jobs.views.middleware import StudioRequest


def address_of(request: HttpRequest) -> str:
    """Where a request comes from, "" where nobody knows. Behind a proxy that is what the proxy itself added last, not
    what it was told."""
    if settings.BEHIND_PROXY:
        told = str(request.META.get("HTTP_X_FORWARDED_FOR", "")).rsplit(",", 1)[-1].strip()
        if _is_address(told):
            return told
    direct = str(request.META.get("REMOTE_ADDR", ""))
    return direct if _is_address(direct) else ""


def _is_address(text: str) -> bool:
    try:
        return bool(ip_address(text))
    except ValueError:
        return False


def _key(what: str, seconds: int, now: datetime) -> str:
    return f"{what}:{seconds}:{int(now.timestamp()) // seconds}"


def count(request: StudioRequest, what: str, seconds: int) -> int:
    """One more of `what` in this span of `seconds`; how many that makes."""
    key, cache = _key(what, seconds, request.now), caches["throttle"]
    cache.add(key, 0, seconds)
    try:
        return int(cache.incr(key))
    except ValueError:  # It went out of the cache in this very moment.
        return 1


def counted(request: StudioRequest, what: str, seconds: int) -> int:
    return int(caches["throttle"].get(_key(what, seconds, request.now), 0))
