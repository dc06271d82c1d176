"""Nobody who is bound to one workshop opens what belongs to another: what an address names is looked up through the
reader's own scope before its page is, and is not there where it is somebody else's.

Asked once, by the decorators of `access.py`, so that no page can forget it. `OWNED` says what the argument of an
address names; tests/pages/test_scope.py wants each address there.
"""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import Model
from django.http import Http404, HttpRequest

from jobs.models import (
    Account,
    DayChange,
    Job,
    LateTap,
    Mail,
    Need,
    Operation,
    OperationKind,
    Panel,
    Person,
    Photo,
    Station,
    TimeEntry,
)
from jobs.models.scope import bound_to, scope

# By the beginning of an address's name, of which the longest counts: the argument, what it names, and by which field.
OWNED: dict[str, tuple[str, type[Model], str]] = {
    "bench": ("slug", Station, "slug"),
    "paper-bench": ("slug", Station, "slug"),
    "scan-work": ("slug", Station, "slug"),
    "rate": ("slug", OperationKind, "slug"),
    "bench-": ("pk", Operation, "pk"),
    "bench-answer": ("pk", TimeEntry, "pk"),
    "bench-hours-": ("pk", TimeEntry, "pk"),
    "hours-": ("pk", TimeEntry, "pk"),
    "photo": ("pk", Photo, "pk"),
    "mail": ("pk", Mail, "pk"),
    "need-do": ("pk", Need, "pk"),
    "scan-": ("pk", Panel, "pk"),
    "late-settle": ("pk", LateTap, "pk"),
    "change-take-back": ("pk", DayChange, "pk"),
    "set-up-station": ("pk", Station, "pk"),
    "set-up-person": ("pk", Person, "pk"),
    "set-up-day-off": ("pk", Person, "pk"),
    "set-up-extra-hours": ("pk", Person, "pk"),
}
# What is the whole studio's, not any workshop's: for those who are bound to none.
WHOLE = (
    "better-order",
    "hours-week-close",
    "look-back",
    "promise-record",
    "record",
    "set-up-account",
    "set-up-calendar",
    "set-up-closed",
    "set-up-export",
    "set-up-group",
    "set-up-holidays",
    "set-up-letters",
    "set-up-mail",
    "set-up-quotes",
    "set-up-session",
    "set-up-signed-in",
    "set-up-studio",
    "set-up-tablet",
    "set-up-token",
    "set-up-workshop",
    "workshops",
)
# Arguments that name nothing of their own: a part of the page, a row below the one that is looked up, or what only who
# is signed in has.
PARTS = frozenset(
    {"verb", "group", "kind", "panel", "version", "paper", "copy", "year", "off", "extra", "token", "handle"}
)


def named_by(name: str, arguments: frozenset[str]) -> list[tuple[str, type[Model], str]]:
    """What an address names, by its own name and its arguments. A job's number owns all that is named after it."""
    if "number" in arguments:
        return [("number", Job, "number__iexact")]
    found = {}
    for start in sorted(OWNED, key=len):
        argument, model, field = OWNED[start]
        if name.startswith(start) and argument in arguments:
            found[argument] = argument, model, field
    return list(found.values())


def must_be_in_scope(request: HttpRequest, account: Account) -> None:
    """Http404 where the address names a row of another workshop than that of the account; 403 for the studio's own."""
    studio = request.studio  # type: ignore[attr-defined]
    if not studio.has_several_workshops:
        return
    own = bound_to(account)
    match = request.resolver_match
    if own is None or match is None or match.url_name is None:
        return
    if match.url_name.startswith(WHOLE):
        raise PermissionDenied
    for argument, model, field in named_by(match.url_name, frozenset(match.kwargs)):
        rows: Any = model._default_manager.filter(**{field: match.kwargs[argument]})
        if not scope(rows, own).exists():
            raise Http404
