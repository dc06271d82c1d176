"""Tablets: let in and revoked by who keeps accounts, and paired on the tablet itself."""

from django.contrib import messages
from django.contrib.auth import login
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import Refused, tablets
from jobs.actions.throttle import count
from jobs.forms.tablets import PairForm, TabletForm
from jobs.models import Tablet
from jobs.views.access import accounts_only
from jobs.views.middleware import StudioRequest
from jobs.views.papers import public
from jobs.views.refusal import carried_out
from jobs.views.signed_in import TABLET_COOKIE, give_secret
from jobs.views.throttle import household_of
from studio.sessions import TABLET_KEY

GUESS_SECONDS = 600
MOST_GUESSES = 20
BACKEND = "django.contrib.auth.backends.ModelBackend"


@require_http_methods(["GET", "POST"])
@accounts_only
def tablet_list(request: StudioRequest) -> HttpResponse:
    form = TabletForm(request.POST if request.method == "POST" else None)
    made: list[tuple[Tablet, str]] = []

    def let_in() -> None:
        made.append(tablets.let_in(**form.cleaned_data, by=request.actor, at=request.now))

    if request.method == "POST" and carried_out(form, let_in):
        return _show_code(request, *made[0])
    return _list(request, form, status=422 if form.is_bound else 200)


def _list(request: StudioRequest, form: TabletForm, refused: str = "", status: int = 200) -> HttpResponse:
    rows = Tablet.objects.select_related("account__station")
    return render(
        request, "setup/tablets.html", {"rows": rows, "form": form, "refused": refused}, status=status
    )


def _show_code(request: StudioRequest, tablet: Tablet, code: str) -> HttpResponse:
    """The code is shown this once; the page is not to be kept."""
    address = public(request)(reverse("pair"))
    context = {
        "tablet": tablet,
        "code": f"{code[:4]} {code[4:]}",
        "address": address,
        "with_code": f"{address}?code={code}",
        "until": request.now + tablets.CODE_LASTS,
    }
    response = render(request, "setup/tablet_code.html", context)
    response.headers["Cache-Control"] = "no-store"
    return response


@require_POST
@accounts_only
def tablet_do(request: StudioRequest, pk: int, verb: str) -> HttpResponse:
    """Give it another code, or revoke it."""
    tablet = get_object_or_404(Tablet, pk=pk)
    try:
        if verb == "code":
            return _show_code(request, tablet, tablets.code_again(tablet, by=request.actor, at=request.now))
        if verb != "revoke":
            raise Http404
        tablets.revoke(tablet, by=request.actor, at=request.now)
    except Refused as refused:
        return _list(request, TabletForm(), refused.sentence, status=422)
    messages.success(request, f"{tablet.name} is revoked: it is out at its next tap.")
    return redirect("set-up-tablets")


@require_http_methods(["GET", "POST"])
def pair(request: StudioRequest) -> HttpResponse:
    """On the tablet: the code from the lead's screen, typed or scanned; a tap on the button pairs it."""
    if request.method != "POST":
        return _ask(request, PairForm(initial={"code": request.GET.get("code", "")[:20]}))
    form = PairForm(request.POST)
    asked = count({f"pair:{household_of(request)}": GUESS_SECONDS}, at=request.now)
    if max(asked.values()) > MOST_GUESSES:
        response = render(request, "sign_in_locked.html", status=429)
        response["Retry-After"] = str(GUESS_SECONDS)
        return response
    found: list[tuple[Tablet, str]] = []
    if not carried_out(form, lambda: found.append(tablets.pair(form.cleaned_data["code"], at=request.now))):
        return _ask(request, form, status=422)
    tablet, secret = found[0]
    response = _sign_in(request, tablet)
    give_secret(response, secret)
    return response


def _ask(request: StudioRequest, form: PairForm, status: int = 200) -> HttpResponse:
    response = render(request, "pair.html", {"form": form}, status=status)
    response.headers["Cache-Control"] = "no-store"
    return response


@require_POST
def pair_again(request: StudioRequest) -> HttpResponse:
    """A tablet that has signed out, or whose session is over, goes on with the secret that it holds."""
    tablet = tablets.tablet_with(request.COOKIES.get(TABLET_COOKIE, ""))
    return redirect("sign-in") if tablet is None else _sign_in(request, tablet)


def _sign_in(request: StudioRequest, tablet: Tablet) -> HttpResponse:
    # Where the same account was signed in already its session keeps its key, so that a screen that asks for news
    # meanwhile is not signed out.
    login(request, tablet.account, backend=BACKEND)
    request.session[TABLET_KEY] = tablet.pk
    return redirect("bench-choose")
