"""Who may open which page: a decorator that names the roles, and looks up what the address names in the reader's scope.

Rules about single rows are the actions'."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from jobs.models import Account, Role
from jobs.views.scope import must_be_in_scope

View = Callable[..., HttpResponse]


def _allow(*roles: Role) -> Callable[[View], View]:
    def decorate(view: View) -> View:
        @wraps(view)
        def checked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            user = request.user
            if not isinstance(user, Account):
                return redirect_to_login(request.get_full_path())
            if user.role not in roles:
                raise PermissionDenied
            must_be_in_scope(request, user)
            return view(request, *args, **kwargs)

        checked.roles = frozenset(roles)  # type: ignore[attr-defined]  # Read by the test that walks all routes.
        return checked

    return decorate


lead_only = _allow(Role.LEAD)
office_only = _allow(Role.LEAD, Role.OFFICE)
at_the_bench = _allow(Role.LEAD, Role.BENCH)
anyone_signed_in = _allow(Role.LEAD, Role.OFFICE, Role.BENCH)
