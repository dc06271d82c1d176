"""Set-up: the words of mail, with a preview on a job."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.actions import Refused
from jobs.actions.mail_drafts import change_template, usual_template
from jobs.actions.mail_words import PLACEHOLDERS, check_words, fill, values_of, words_of
from jobs.forms.mail import WordsForm
from jobs.models import Job, MailKind, MailTemplate
from jobs.views.access import set_up_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out


@require_safe
@set_up_only
def template_list(request: StudioRequest) -> HttpResponse:
    own = set(MailTemplate.objects.values_list("kind", flat=True))
    rows = [(kind, words_of(kind)[0], kind.value in own) for kind in MailKind]
    return render(request, "setup/mail.html", {"rows": rows})


def _known(kind: str) -> MailKind:
    if kind not in MailKind.values:
        raise Http404
    return MailKind(kind)


@require_http_methods(["GET", "POST"])
@set_up_only
def template_page(request: StudioRequest, kind: str) -> HttpResponse:
    """Save, or with the button “Preview” only look."""
    known = _known(kind)
    subject, body = words_of(known)
    posted = request.method == "POST"
    form = WordsForm(request.POST if posted else None, initial={"subject": subject, "body": body})
    context: dict[str, Any] = {"kind": known, "form": form, "placeholders": PLACEHOLDERS.items()}
    if not posted:
        return render(request, "setup/mail_words.html", context)
    if "preview" in request.POST:
        if carried_out(form, lambda: context.update(_preview(form.cleaned_data))):
            return render(request, "setup/mail_words.html", context)
    elif carried_out(form, lambda: _change(request, known, form.cleaned_data)):
        messages.success(request, "Saved.")
        return redirect("set-up-mail-words", kind)
    return render(request, "setup/mail_words.html", context, status=422)


def _change(request: StudioRequest, kind: str, typed: dict[str, Any]) -> None:
    change_template(kind, subject=typed["subject"], body=typed["body"], by=request.actor, at=request.now)


def _preview(typed: dict[str, Any]) -> dict[str, Any]:
    check_words(typed["subject"], "subject")
    check_words(typed["body"], "body")
    jobs = Job.objects.select_related("customer")
    number = typed["job"].strip()
    job = jobs.filter(number=number).first() if number else jobs.open().order_by("-pk").first()
    if job is None:
        raise Refused("There is no job of that number.", "job")
    values = values_of(job)
    return {
        "preview_job": job,
        "preview_subject": fill(typed["subject"], values),
        "preview_body": fill(typed["body"], values),
    }


@require_POST
@set_up_only
def template_usual(request: StudioRequest, kind: str) -> HttpResponse:
    usual_template(_known(kind), by=request.actor, at=request.now)
    messages.success(request, "The usual words stand again.")
    return redirect("set-up-mail-words", kind)
