"""Mail to customers: what is drafted, what is on its way, and what went."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import mail_drafts, outbox
from jobs.actions.mail_words import missing
from jobs.documents.customer_papers import CustomerPaper
from jobs.documents.mail_papers import attachments
from jobs.forms.jobs import EmptyForm
from jobs.forms.mail import MailForm, NewMailForm
from jobs.models import Mail, MailState
from jobs.models.scope import scope
from jobs.views.access import office_only
from jobs.views.job import find_job, page
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.workshops import workshop_key

SHOWN = {
    "drafts": ("Drafts", (MailState.DRAFT,)),
    "waiting": ("Waiting", (MailState.WAITING, MailState.SENDING)),
    "failed": ("Failed", (MailState.FAILED, MailState.UNKNOWN)),
    "sent": ("Sent", (MailState.SENT,)),
}
A_PAGE = 50


@require_safe
@office_only
def mail_list(request: StudioRequest) -> HttpResponse:
    shown = request.GET.get("show", "drafts")
    shown = shown if shown in SHOWN else "drafts"
    own = scope(Mail.objects.all(), workshop_key(request))
    counts = {key: own.filter(state__in=states).count() for key, (_, states) in SHOWN.items()}
    rows = own.filter(state__in=SHOWN[shown][1]).select_related("job__customer")
    if shown == "sent":
        rows = rows.order_by("-sent_at", "-pk")
    context = {
        "tabs": [(key, name, counts[key]) for key, (name, _) in SHOWN.items()],
        "shown": shown,
        "page": Paginator(rows, A_PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "mail_list.html", context)


@require_POST
@office_only
def mail_new(request: StudioRequest, number: str) -> HttpResponse:
    """A draft by hand, from the page of the job."""
    job = find_job(number)
    form = NewMailForm(request.POST)
    made: list[Mail] = []
    who: dict[str, Any] = {"by": request.actor, "at": request.now}
    if not carried_out(
        form, lambda: made.append(mail_drafts.write_draft(job, form.cleaned_data["kind"], **who))
    ):
        return page(request, job, edit="refused-mail", form=form, status=422)
    return redirect(made[0])


def _find(pk: int) -> Mail:
    return get_object_or_404(Mail.objects.select_related("job__customer", "sent_by"), pk=pk)


@require_safe
@office_only
def mail(request: StudioRequest, pk: int) -> HttpResponse:
    return _page(request, _find(pk))


def _form(row: Mail, offered: list[CustomerPaper], data: Any = None) -> MailForm:
    names = [paper.slug for paper in offered]
    initial = {"to": row.to, "subject": row.subject, "body": row.body}
    initial["papers"] = names if row.papers is None else row.papers  # type: ignore[assignment]
    return MailForm(data, initial=initial, offered=[(paper.slug, paper.title) for paper in offered])


def _page(
    request: StudioRequest, row: Mail, *, form: BaseForm | None = None, status: int = 200
) -> HttpResponse:
    offered = attachments(row.kind, row.job) if row.state == MailState.DRAFT else []
    context = {
        "mail": row,
        "form": form if isinstance(form, MailForm) else _form(row, offered),
        "refused": form if not isinstance(form, MailForm) else None,
        "offered": offered,
        "gaps": missing(row.subject) + missing(row.body),
        "attached": row.attached.defer("content"),
        "is_draft": row.state == MailState.DRAFT,
        "waits": row.state in (MailState.WAITING, MailState.SENDING),
        "failed": row.state == MailState.FAILED,
        "unknown": row.state == MailState.UNKNOWN,
    }
    return render(request, "mail.html", context, status=status)


Verb = Callable[..., object]
TAPPED: dict[str, tuple[Verb, str]] = {
    "anew": (mail_drafts.write_anew, "It is written anew."),
    "discard": (mail_drafts.discard_draft, "The draft is discarded."),
    "again": (outbox.try_again, "It is tried again."),
    "mend": (outbox.take_back, "It is a draft again."),
    "went": (outbox.it_went, "It stands as sent."),
}


@require_POST
@office_only
def mail_do(request: StudioRequest, pk: int, verb: str) -> HttpResponse:
    """Save or send a draft as it was typed; or one tap on a mail that is there."""
    row = _find(pk)
    if verb in ("save", "send"):
        return _save(request, row, send=verb == "send")
    if verb not in TAPPED:
        raise Http404
    act, said = TAPPED[verb]
    form = EmptyForm(request.POST)
    if not carried_out(form, lambda: act(row, by=request.actor, at=request.now)):
        return _page(request, _find(pk), form=form, status=422)
    if verb == "again":
        return _try(request, row)
    messages.success(request, said)
    return redirect("mail-list" if verb == "discard" else row)


def _save(request: StudioRequest, row: Mail, *, send: bool) -> HttpResponse:
    offered = attachments(row.kind, row.job)
    form = _form(row, offered, request.POST)
    if not carried_out(form, lambda: _write(request, row, form, offered, send)):
        return _page(request, _find(row.pk), form=form, status=422)
    if send:
        return _try(request, row)
    messages.success(request, "It is saved.")
    return redirect(row)


def _write(
    request: StudioRequest, row: Mail, form: MailForm, offered: list[CustomerPaper], send: bool
) -> None:
    who: dict[str, Any] = {"by": request.actor, "at": request.now}
    typed = {"papers": [], **form.cleaned_data}
    mail_drafts.change_draft(row, **typed, **who)
    if send:
        chosen = [paper for paper in offered if paper.slug in typed["papers"]]
        made = [outbox.Attachment(f"{row.job.number}-{paper.slug}.pdf", paper.make()) for paper in chosen]
        outbox.send_mail(row, made, **who)


def _try(request: StudioRequest, row: Mail) -> HttpResponse:
    """Try it while the person looks, who does not wait long: what does not go at once the outbox tries again."""
    if outbox.deliver(row.pk, at=request.now, mailer="at_once"):
        messages.success(request, "It is sent.")
    else:
        messages.warning(request, "It could not be sent at once; see below.")
    return redirect(row)


@require_safe
@office_only
def mail_paper(_request: StudioRequest, pk: int, slug: str) -> HttpResponse:
    """A paper as it would go with a draft; or, by its number, as it went with a mail."""
    row = _find(pk)
    if slug.isdecimal():
        kept = get_object_or_404(row.attached, pk=int(slug))
        name, content = kept.name, bytes(kept.content)
    else:
        offered = attachments(row.kind, row.job) if row.state == MailState.DRAFT else []
        paper = next((paper for paper in offered if paper.slug == slug), None)
        if paper is None:
            raise Http404
        name, content = f"{row.job.number}-{slug}.pdf", paper.make()
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
