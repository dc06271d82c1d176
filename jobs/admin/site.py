"""The admin is the lead's alone, and is entered through the one sign-in page there is."""

from typing import Any

from django.contrib import admin
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from .base import is_lead


def _sign_in(request: HttpRequest, **_: Any) -> HttpResponse:
    if is_lead(request):
        return redirect("admin:index")
    if request.user.is_authenticated:
        raise PermissionDenied
    return redirect_to_login(request.GET.get("next") or reverse("admin:index"))


def _password(_: HttpRequest, **__: Any) -> HttpResponse:
    return redirect("password")


def _set_up() -> None:
    site = admin.site
    site.site_header = "Kinds, routes and all rows"
    site.site_title = "Set-up"
    site.index_title = "Set-up"
    site.site_url = "/set-up/"
    site.has_permission = is_lead  # type: ignore[method-assign]
    site.login = _sign_in  # type: ignore[assignment,method-assign]
    site.password_change = _password  # type: ignore[assignment,method-assign]


_set_up()
