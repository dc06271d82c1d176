"""Signing in, and one's own password."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.views.decorators.http import require_http_methods

from jobs.actions import Refused, accounts, codes
from jobs.actions.tablets import tablet_with
from jobs.forms.account import PasswordForm, SignInForm
from jobs.models import Role
from jobs.views.access import anyone_signed_in
from jobs.views.codes import half_signed_in
from jobs.views.middleware import StudioRequest
from jobs.views.signed_in import TABLET_COOKIE


class SignIn(LoginView):
    """Django's own, which sends nobody to another site, with our words and our ways on."""

    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_default_redirect_url(self) -> str:
        role = getattr(self.request.user, "role", Role.BENCH)
        return resolve_url("bench-choose" if role == Role.BENCH else "floor")

    def get_context_data(self, **about: Any) -> dict[str, Any]:
        """With the tablet that goes on by its secret, or that it was let in once and is not any more."""
        secret = self.request.COOKIES.get(TABLET_COOKIE, "")
        found = {"tablet": tablet_with(secret), "was_tablet": bool(secret)}
        return super().get_context_data(**about) | found

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        return half_signed_in(self.request, form, self.get_redirect_url()) or super().form_valid(form)

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


@require_http_methods(["GET", "POST"])
@anyone_signed_in
def password(request: StudioRequest) -> HttpResponse:
    form = PasswordForm(request.user, request.POST if request.method == "POST" else None)
    if form.is_bound:
        try:
            codes.check_password(request.user, str(form.data.get("old_password", "")), at=request.now)
        except Refused as refused:
            form.add_error("old_password", refused.sentence)
            return render(request, "password.html", {"form": form}, status=422)
    if form.is_valid():
        account = accounts.set_password(
            request.user,
            form.cleaned_data["new_password1"],
            by=request.actor,
            at=request.now,
            keep=request.session.session_key or "",
        )
        update_session_auth_hash(request, account)
        messages.success(request, "Your password is changed, and you are signed out everywhere else.")
        return redirect("account")
    return render(request, "password.html", {"form": form}, status=422 if form.is_bound else 200)
