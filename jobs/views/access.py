"""Who may open which page: a decorator that names the permission, and looks up what the address names in the scope of
whoever asks. Rules about single rows are the actions'.

Which role has which permission stands in models/permissions.py; a studio's own groups may give more.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from jobs.models import Account, May
from jobs.models.permissions import roles_that
from jobs.views.scope import must_be_in_scope

View = Callable[..., HttpResponse]


def _allow(may: May | None) -> Callable[[View], View]:
    def decorate(view: View) -> View:
        @wraps(view)
        def checked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            user = request.user
            if not isinstance(user, Account):
                return redirect_to_login(request.get_full_path())
            if may is not None and not user.may(may):
                raise PermissionDenied
            must_be_in_scope(request, user)
            return view(request, *args, **kwargs)

        checked.may = may  # type: ignore[attr-defined]
        checked.roles = roles_that(may)  # type: ignore[attr-defined]  # Read by the test that walks all routes.
        return checked

    return decorate


lead_only = _allow(May.LEAD_FLOOR)
office_only = _allow(May.RUN_OFFICE)
at_the_bench = _allow(May.WORK_AT_BENCH)
hours_only = _allow(May.KEEP_HOURS)
rates_only = _allow(May.SET_RATES)
set_up_only = _allow(May.SET_UP)
accounts_only = _allow(May.KEEP_ACCOUNTS)
anyone_signed_in = _allow(None)
