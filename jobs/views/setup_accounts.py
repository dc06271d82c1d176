"""Set-up: who may sign in."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.forms import ModelChoiceField
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import Refused, accounts, codes, groups
from jobs.forms.groups import MembershipForm
from jobs.forms.setup import AccountForm, NewAccountForm, ResetForm
from jobs.models import Account, Workshop
from jobs.models.permissions import own_groups
from jobs.views.access import accounts_only
from jobs.views.history import history_about
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.workshops import workshops_of

IN_FORM = ("username", "first_name", "last_name", "role", "station")


def _asked[Form: (AccountForm, NewAccountForm)](
    request: StudioRequest, form: Form, account: Account | None = None
) -> Form:
    """The form, which also asks for a workshop where there are several."""
    if workshops_of(request):
        rows = Workshop.objects.all()
        form.fields["workshop"] = ModelChoiceField(
            rows,
            required=False,
            empty_label="all",
            initial=account.workshop if account else None,
            help_text="Whose pages it opens; a tablet opens those of its station's.",
        )
    return form


@require_http_methods(["GET", "POST"])
@accounts_only
def account_list(request: StudioRequest) -> HttpResponse:
    form = _asked(request, NewAccountForm(request.POST if request.method == "POST" else None))

    def make() -> None:
        accounts.make_account(
            form.cleaned_data, form.cleaned_data["password"], by=request.actor, at=request.now
        )

    if request.method == "POST" and carried_out(form, make):
        messages.success(request, f"{form.cleaned_data['username']} can sign in now.")
        return redirect("set-up-accounts")
    context = {
        "accounts": Account.objects.select_related("station").order_by("-is_active", "role", "username"),
        "form": form,
    }
    return render(request, "setup/accounts.html", context, status=422 if request.method == "POST" else 200)


def _page(
    request: StudioRequest,
    account: Account,
    form: AccountForm | None = None,
    reset: ResetForm | None = None,
    member: MembershipForm | None = None,
    refused: str = "",
) -> HttpResponse:
    initial = {name: getattr(account, name) for name in IN_FORM}
    context: dict[str, Any] = {
        "account": account,
        **_history(request, account),
        "form": form or _asked(request, AccountForm(initial=initial), account),
        "reset": reset or ResetForm(auto_id="reset-%s"),
        "member": member or MembershipForm(initial={"groups": own_groups().filter(user=account)}),
        "refused": refused,
        "has_code": codes.has_code(account),
    }
    return render(
        request, "setup/account.html", context, status=422 if form or reset or member or refused else 200
    )


def _history(request: StudioRequest, account: Account) -> dict[str, Any]:
    address = reverse("set-up-account", args=[account.pk])
    return history_about(account, address, request.studio, whole=request.GET.get("history") == "all")


@require_http_methods(["GET", "POST"])
@accounts_only
def account_page(request: StudioRequest, pk: int) -> HttpResponse:
    account = get_object_or_404(Account.objects.select_related("station"), pk=pk)
    if request.method != "POST":
        return _page(request, account)
    form = _asked(request, AccountForm(request.POST))
    if not carried_out(
        form, lambda: accounts.change_account(account, form.cleaned_data, by=request.actor, at=request.now)
    ):
        return _page(request, account, form=form)
    messages.success(request, "Saved.")
    return redirect("set-up-accounts")


@require_POST
@accounts_only
def account_password(request: StudioRequest, pk: int) -> HttpResponse:
    account = get_object_or_404(Account, pk=pk)
    form = ResetForm(request.POST, auto_id="reset-%s")

    def reset() -> None:
        changed = accounts.set_password(
            account,
            form.cleaned_data["password"],
            by=request.actor,
            at=request.now,
            keep=(request.session.session_key or "") if account == request.user else "",
        )
        if changed == request.user:
            update_session_auth_hash(request, changed)

    if not carried_out(form, reset):
        return _page(request, account, reset=form)
    messages.success(request, f"{account.username} signs in with the new password from now on.")
    return redirect("set-up-accounts")


@require_POST
@accounts_only
def account_groups(request: StudioRequest, pk: int) -> HttpResponse:
    account = get_object_or_404(Account, pk=pk)
    form = MembershipForm(request.POST)

    def put() -> None:
        groups.put_in_groups(account, form.cleaned_data["groups"], by=request.actor, at=request.now)

    if not carried_out(form, put):
        return _page(request, account, member=form)
    messages.success(request, "Saved.")
    return redirect("set-up-account", pk)


@require_POST
@accounts_only
def account_code_off(request: StudioRequest, pk: int) -> HttpResponse:
    """For somebody who has lost their phone and their recovery codes."""
    account = get_object_or_404(Account, pk=pk)
    try:
        codes.switch_off(account, by=request.actor, at=request.now)
    except Refused as refused:
        return _page(request, account, refused=refused.sentence)
    messages.success(
        request, f"{account.username} signs in with the password alone until a code is switched on again."
    )
    return redirect("set-up-account", pk)


@require_POST
@accounts_only
def account_end(request: StudioRequest, pk: int) -> HttpResponse:
    """End an account that is open, reopen one that has ended, as the button says."""
    account = get_object_or_404(Account, pk=pk)
    action = accounts.reopen_account if request.POST.get("again") else accounts.end_account
    try:
        action(account, by=request.actor, at=request.now)
    except Refused as refused:
        return _page(request, account, refused=refused.sentence)
    said = "is open again" if request.POST.get("again") else "has ended"
    messages.success(request, f"The account {account.username} {said}.")
    return redirect("set-up-accounts")
