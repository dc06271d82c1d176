"""Set-up: tokens with which other programs read."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import Refused, api_tokens
from jobs.forms.tokens import TokenForm
from jobs.models import ApiToken
from jobs.views.access import accounts_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out


@require_http_methods(["GET", "POST"])
@accounts_only
def token_list(request: StudioRequest) -> HttpResponse:
    """The list; where one has just been made, the token itself, which is shown this once."""
    today = timezone.localdate(request.now)
    empty = TokenForm(initial={"last_day": today + api_tokens.USUAL})
    if request.method != "POST":
        return _page(request, empty)
    form, made = TokenForm(request.POST), []

    def make() -> None:
        made.append(api_tokens.make_token(**form.cleaned_data, by=request.actor, at=request.now))

    if not carried_out(form, make):
        return _page(request, form, status=422)
    response = _page(request, empty, made=made[0])
    response["Cache-Control"] = "no-store, private"
    return response


@require_POST
@accounts_only
def token_revoke(request: StudioRequest, pk: int) -> HttpResponse:
    token = get_object_or_404(ApiToken, pk=pk)
    try:
        api_tokens.revoke_token(token, by=request.actor, at=request.now)
    except Refused as refused:
        messages.error(request, refused.sentence)
    else:
        messages.success(request, f"{token.name} reads nothing any more.")
    return redirect("set-up-tokens")


def _page(
    request: StudioRequest, form: TokenForm, made: tuple[ApiToken, str] | None = None, status: int = 200
) -> HttpResponse:
    today = timezone.localdate(request.now)
    rows = [{"token": row, "live": row.is_live(today)} for row in ApiToken.objects.select_related("made_by")]
    rows.sort(key=lambda row: not row["live"])
    context = {
        "rows": rows,
        "form": form,
        "made": made[0] if made else None,
        "secret": made[1] if made else "",
        "address": request.build_absolute_uri("/api/v1/"),
    }
    return render(request, "setup/tokens.html", context, status=status)
