"""Parts of pages that are drawn once for everybody who looks at them, while nothing changes.

Screens on the floor renew themselves all day, and hardly ever has anything changed meanwhile. Every change writes an
Event and every plan its time: a part is kept under these two and the minute, so that a change shows at once, and what
changes by itself (a timer left on, minutes that run) within the minute.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any
from uuid import uuid4

from django.core.cache import cache
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

from jobs.models import Event, PlanState
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import workshop_key

SECONDS = 60
# What each response has of its own is put in afterwards. What people type is escaped, so it can never hold these.
TOKEN, TAP = mark_safe("<token>"), mark_safe("<tap>")  # nosec B308  # Constants of ours, not input.


def kept_part(
    request: StudioRequest,
    template: str,
    about: tuple[object, ...],
    plan: PlanState,
    read: Callable[[], Mapping[str, Any]],
) -> SafeString:
    """The part as it stands; `read` gives the context where it has to be drawn anew.

    `about`: what else it depends on, such as the person it is for. It may not hold anything of one session alone.
    """
    minute = int(request.now.timestamp()) // SECONDS
    planned = plan.planned_at.timestamp() if plan.planned_at else 0
    facts = (
        template,
        get_language(),
        *about,
        Event.objects.newest(),
        plan.revision,
        planned,
        minute,
        request.user.role,
        workshop_key(request),
        ".".join(sorted(request.user.granted)),
    )
    key = re.sub(r"[^\w.#:/-]", "_", ":".join(map(str, facts)))
    part = cache.get(key)
    if part is None:
        part = render_to_string(template, {**read(), "csrf_token": TOKEN, "tap_mark": TAP}, request)
        cache.set(key, part, SECONDS)
    part = part.replace(TOKEN, get_token(request)) if TOKEN in part else part
    return mark_safe(re.sub(TAP, lambda _: str(uuid4()), part))  # noqa: S308  # nosec B308 B703  # Rendered, thus escaped, above.
