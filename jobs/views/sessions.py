"""One's own account: where it is signed in; and for who keeps accounts, where everybody is."""

from uuid import UUID

from django.contrib import messages
from django.contrib.auth import logout
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import Refused, sessions
from jobs.models import SignedIn
from jobs.views.access import accounts_only, anyone_signed_in
from jobs.views.middleware import StudioRequest


@require_safe
@anyone_signed_in
def account(request: StudioRequest) -> HttpResponse:
    rows = _live(request).filter(account=request.user)
    return render(request, "account.html", {"rows": rows, "this": request.session.session_key})


@require_safe
@accounts_only
def everybody(request: StudioRequest) -> HttpResponse:
    rows = _live(request).exclude(account=None).select_related("account", "tablet")
    return render(request, "setup/signed_in.html", {"rows": rows, "this": request.session.session_key})


@require_POST
@anyone_signed_in
def session_end(request: StudioRequest, handle: UUID) -> HttpResponse:
    """One of one's own. The one that it is asked with is signed out just so."""
    row = get_object_or_404(_live(request), account=request.user, handle=handle)
    if row.pk == request.session.session_key:
        logout(request)
        return redirect("sign-in")
    return _ended(request, row, "account")


@require_POST
@anyone_signed_in
def sessions_end_others(request: StudioRequest) -> HttpResponse:
    count = sessions.end_others(
        request.user, request.session.session_key or "", by=request.actor, at=request.now
    )
    messages.success(request, "You are signed in nowhere else now." if count else "You were nowhere else.")
    return redirect("account")


@require_POST
@accounts_only
def session_end_of(request: StudioRequest, handle: UUID) -> HttpResponse:
    """Anybody's."""
    return _ended(request, get_object_or_404(_live(request), handle=handle), "set-up-signed-in")


def _ended(request: StudioRequest, row: SignedIn, back: str) -> HttpResponse:
    try:
        sessions.end_session(row, by=request.actor, at=request.now)
    except Refused as refused:
        messages.warning(request, refused.sentence)
    else:
        messages.success(request, f"{row.device} is signed out.")
    return redirect(back)


def _live(request: StudioRequest) -> QuerySet[SignedIn]:
    return SignedIn.objects.filter(expire_date__gt=request.now).select_related("tablet")
