"""Where a request of somebody who is not signed in comes from; how often they may ask is jobs.actions.throttle's."""

from ipaddress import IPv6Address, IPv6Network, ip_address

from django.conf import settings
from django.http import HttpRequest

# Whoever has one address of such a block has all of them (RFC 6177).
HOUSEHOLD = 64


def address_of(request: HttpRequest) -> str:
    """Where a request comes from, "" where nobody knows. Behind a proxy that is what the proxy itself added last, not
    what it was told."""
    if settings.BEHIND_PROXY:
        told = str(request.META.get("HTTP_X_FORWARDED_FOR", "")).rsplit(",", 1)[-1].strip()
        if _is_address(told):
            return told
    direct = str(request.META.get("REMOTE_ADDR", ""))
    return direct if _is_address(direct) else ""


def counted_address(request: HttpRequest) -> str:
    """By which address wrong passwords are counted (django-axes): those of nowhere all by one."""
    return address_of(request) or "0.0.0.0"  # noqa: S104  # nosec B104  # Nothing is bound to it.


def household_of(request: HttpRequest) -> str:
    """What requests are counted by: the address, of one of the sixth version its network."""
    address = address_of(request)
    found = ip_address(address) if address else None
    if not isinstance(found, IPv6Address):
        return address
    return str(found.ipv4_mapped or IPv6Network((int(found), HOUSEHOLD), strict=False))


def _is_address(text: str) -> bool:
    try:
        return bool(ip_address(text))
    except ValueError:
        return False
