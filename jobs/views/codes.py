"""One-time codes: asked for behind the password, and switched on and off by a person for their own account."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.forms import AuthenticationForm
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils.crypto import constant_time_compare
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.actions import codes
from jobs.forms.codes import CodeForm, OwnPasswordForm
from jobs.models import Account, May
from jobs.templatetags.papers import qr_address
from jobs.views.access import anyone_signed_in
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out

HALF = "half_signed_in"
# So long a right password waits for its code.
HALF_SECONDS = 300
# Where whoever has to switch a code on may be before they have.
WITHOUT = frozenset(
    {"account-code", "account-code-do", "password", "sign-out", "sign-in", "pulse", "language"}
)


class CodeRequired:
    """Where the studio asks a code of who keeps its accounts, they get no further than to switching it on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: StudioRequest, *_: Any) -> HttpResponse | None:
        if not request.studio.leads_need_code or not isinstance(request.user, Account):
            return None
        found = request.resolver_match
        if found is not None and found.url_name in WITHOUT:
            return None
        if not request.user.may(May.KEEP_ACCOUNTS) or codes.has_code(request.user):
            return None
        messages.warning(
            request, "The studio asks the lead for a code beside the password: switch it on first."
        )
        return redirect("account-code")


def half_signed_in(request: HttpRequest, form: AuthenticationForm, way_on: str) -> HttpResponse | None:
    """To the page that asks for the code, where the account that has given its password has one. Not signed in yet."""
    account = form.get_user()
    if not isinstance(account, Account) or not codes.has_code(account):
        return None
    request.session.cycle_key()
    request.session[HALF] = {
        "account": account.pk,
        "backend": account.backend,
        "hash": account.get_session_auth_hash(),
        "at": int(request.now.timestamp()),  # type: ignore[attr-defined]
        "next": way_on,
    }
    return redirect("sign-in-code")


@require_http_methods(["GET", "POST"])
def sign_in_code(request: StudioRequest) -> HttpResponse:
    half: dict[str, Any] = request.session.get(HALF) or {}
    account = _half(half, request)
    if account is None:
        request.session.pop(HALF, None)
        return redirect("sign-in")
    form = CodeForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and carried_out(
        form, lambda: codes.check_code(account, form.cleaned_data["code"], at=request.now)
    ):
        del request.session[HALF]
        login(request, account, backend=half["backend"])
        return redirect(half["next"] or resolve_url("floor"))
    return render(request, "sign_in_code.html", {"form": form}, status=422 if form.is_bound else 200)


def _half(half: dict[str, Any], request: StudioRequest) -> Account | None:
    if not half or request.now.timestamp() - half["at"] > HALF_SECONDS:
        return None
    account = Account.objects.filter(pk=half["account"], is_active=True).first()
    known = account is not None and constant_time_compare(half["hash"], account.get_session_auth_hash())
    return account if known else None


@require_safe
@anyone_signed_in
def code_page(request: StudioRequest) -> HttpResponse:
    return _page(request)


def _page(request: StudioRequest, *, status: int = 200, **typed: Any) -> HttpResponse:
    app = codes.waiting_app(request.user)
    context = {
        "on": codes.has_code(request.user),
        "left": codes.recovery_left(request.user),
        "app": app,
        "code": CodeForm(),
        "password": OwnPasswordForm(auto_id="off-%s"),
        "again": OwnPasswordForm(auto_id="again-%s"),
    }
    if app is not None:
        # Not kept in memory, as the codes of papers are.
        context["picture"] = qr_address.__wrapped__(codes.address_of(app, request.studio))
        key = codes.key_of(app)
        context["key"] = " ".join(key[start : start + 4] for start in range(0, len(key), 4))
    response = render(request, "account_code.html", context | typed, status=status)
    response.headers["Cache-Control"] = "no-store"
    return response


@require_POST
@anyone_signed_in
def code_do(request: StudioRequest, verb: str) -> HttpResponse:
    """Begin, switch on, switch off, or make other recovery codes."""
    if verb not in VERBS:
        raise Http404
    return VERBS[verb](request)


def _begin(request: StudioRequest) -> HttpResponse:
    form = Form(request.POST)
    if not carried_out(form, lambda: codes.begin(request.user)):
        return _page(request, status=422, refused=form.non_field_errors())
    return redirect("account-code")


def _on(request: StudioRequest) -> HttpResponse:
    form, made = CodeForm(request.POST), list[str]()
    keep = request.session.session_key or ""

    def act() -> None:
        made.extend(
            codes.switch_on(
                request.user, form.cleaned_data["code"], by=request.actor, at=request.now, keep=keep
            )
        )

    if not carried_out(form, act):
        return _page(request, status=422, code=form)
    return _page(request, recovery=made)


def _off(request: StudioRequest) -> HttpResponse:
    form = OwnPasswordForm(request.POST, auto_id="off-%s")

    def act() -> None:
        codes.check_password(request.user, form.cleaned_data["password"], at=request.now)
        codes.switch_off(request.user, by=request.actor, at=request.now)

    if not carried_out(form, act):
        return _page(request, status=422, password=form)
    messages.success(request, "No code is asked for any more.")
    return redirect("account-code")


def _recovery(request: StudioRequest) -> HttpResponse:
    form, made = OwnPasswordForm(request.POST, auto_id="again-%s"), list[str]()

    def act() -> None:
        codes.check_password(request.user, form.cleaned_data["password"], at=request.now)
        made.extend(codes.new_recovery(request.user, by=request.actor, at=request.now))

    if not carried_out(form, act):
        return _page(request, status=422, again=form)
    return _page(request, recovery=made)


VERBS: dict[str, Callable[[StudioRequest], HttpResponse]] = {
    "begin": _begin,
    "on": _on,
    "off": _off,
    "recovery": _recovery,
}
