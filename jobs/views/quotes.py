"""Quotes of a job: versions, a draft's lines, its date beside what it does to others, sent and answered."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import quotes
from jobs.actions.quote_dates import DateOffer, date_offer, offer_day
from jobs.actions.quote_lines import ShownLine, changed_since, lines_of
from jobs.actions.quoting import LineDraft
from jobs.forms.jobs import EmptyForm
from jobs.forms.quotes import AcceptForm, DateForm, DeclineForm, LinesForm, SendForm
from jobs.models import Job, Quote, QuoteState, SentQuote
from jobs.views.access import office_only
from jobs.views.date_whatif import MovedRow, moved_rows
from jobs.views.job import find_job
from jobs.views.middleware import StudioRequest
from jobs.views.quote_paper import keep_paper, parts_of, rounding_of, version_before
from jobs.views.refusal import carried_out


@require_safe
@office_only
def job_quotes(request: StudioRequest, number: str) -> HttpResponse:
    return _list_page(request, find_job(number))


def _list_page(
    request: StudioRequest, job: Job, form: BaseForm | None = None, status: int = 200
) -> HttpResponse:
    rows = list(job.quotes.order_by("-version"))
    context = {
        "job": job,
        "rows": rows,
        "form": form,
        "can_make": job.closed_at is None and not any(row.state == QuoteState.DRAFT for row in rows),
        "panels": job.panels.order_by("number").prefetch_related("takeoffs"),
    }
    return render(request, "quotes.html", context, status=status)


@require_POST
@office_only
def quote_make(request: StudioRequest, number: str) -> HttpResponse:
    job, form = find_job(number), EmptyForm(request.POST)
    made: list[Quote] = []
    if not carried_out(form, lambda: made.append(quotes.make_quote(job, by=request.actor, at=request.now))):
        return _list_page(request, job, form, 422)
    return _to(made[0])


def _to(quote: Quote) -> HttpResponse:
    where = reverse("quote", args=[quote.job.number, quote.version])
    return HttpResponse(status=303, headers={"Location": where})


def _find(number: str, version: int) -> Quote:
    rows = Quote.objects.select_related("job__customer", "made_by", "sent_by", "answered_by")
    return get_object_or_404(rows, job__number=number, version=version)


@require_safe
@office_only
def quote(request: StudioRequest, number: str, version: int) -> HttpResponse:
    return _page(request, _find(number, version), edit=request.GET.get("edit", ""))


def _page(
    request: StudioRequest,
    quote: Quote,
    *,
    edit: str = "",
    forms: dict[str, BaseForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    """`forms` are those that were refused, by their verb."""
    lines, is_draft = lines_of(quote), quote.state == QuoteState.DRAFT
    shown = {verb: _form(request, quote, verb, lines) for verb in VERBS} | (forms or {})
    changes = shown["change"] if is_draft and edit == "lines" else None
    before = version_before(quote)
    context = {
        "job": quote.job,
        "quote": quote,
        "is_draft": is_draft,
        "parts": parts_of(lines, changes),  # type: ignore[arg-type]
        "rounding": rounding_of(lines),
        "edit": edit,
        "forms": shown,
        "before": before,
        "changes": changed_since(before, quote) if before else (),
        "unpriced": (quote.frozen or {}).get("unpriced", ()) if is_draft else (),
        "problems": (quote.frozen or {}).get("problems", ()),
        "balance": quote.total - quote.deposit,
        "offer": None,
        "panels": list(quote.job.panels.order_by("number")),
        "kept": SentQuote.objects.filter(quote=quote).first(),
    }
    if is_draft and request.method == "GET" and "if_approved_by" in request.GET:
        form = DateForm(request.GET, usual=quote.confidence)
        context |= {"offer": _tried(request, quote, form)}
        shown["date"] = form
        status = 422 if form.errors else status
    return render(request, "quote.html", context, status=status)


@dataclass(frozen=True, slots=True)
class Tried:
    """A date that is only asked for. `moved` is for the lead: what the job does to the others."""

    offer: DateOffer
    moved: list[MovedRow]
    query: dict[str, str]


def _tried(request: StudioRequest, quote: Quote, form: DateForm) -> Tried | None:
    found: list[DateOffer] = []

    def ask() -> None:
        typed = form.cleaned_data
        found.append(date_offer(quote, typed["if_approved_by"], typed["confidence"], at=request.now))

    if not carried_out(form, ask):
        return None
    moved = []
    if request.user.is_lead:
        moved = [row for row in moved_rows(found[0].effect, timezone.localdate(request.now)) if row.job]
    typed = form.cleaned_data
    query = {
        "if_approved_by": typed["if_approved_by"].isoformat(),
        "confidence": f"{typed['confidence']:.2f}",
    }
    return Tried(found[0], moved, query)


VERBS = ("change", "renew", "date", "send", "accept", "decline", "drop")


def _form(
    request: StudioRequest, quote: Quote, verb: str, lines: Sequence[ShownLine], data: Any = None
) -> BaseForm:
    match verb:
        case "change":
            rows = [(line.pk, line.words, line.amount) for line in lines if line.pk and not line.is_foot]
            start = {"valid_until": quote.valid_until, "terms": quote.terms}
            return LinesForm(data, lines=rows, initial=start)
        case "date":
            today = timezone.localdate(request.now)
            before = version_before(quote) if quote.if_approved_by is None else None
            day = quote.if_approved_by or max((before and before.if_approved_by) or today, today)
            return DateForm(data, usual=quote.confidence, initial={"if_approved_by": day})
        case "send":
            return SendForm(data, auto_id="send-%s")
        case "accept":
            return AcceptForm(data, auto_id="accept-%s")
        case "decline":
            return DeclineForm(data, auto_id="decline-%s")
    return EmptyForm(data)


SAID = {
    "change": "It is saved.",
    "renew": "It is reckoned anew.",
    "date": "The date stands in the quote.",
    "send": "It is sent: it reads the same from now on.",
    "accept": "It is accepted: the job is ordered, with the hours quoted.",
    "decline": "It is declined, and stays here for the record.",
    "drop": "The draft is thrown away.",
}


@require_POST
@office_only
def quote_do(request: StudioRequest, number: str, version: int, verb: str) -> HttpResponse:
    row = _find(number, version)
    if verb not in VERBS:
        raise Http404
    form = _form(request, row, verb, lines_of(row), request.POST)
    if not carried_out(form, lambda: _do(request, row, verb, form)):
        edit = "lines" if verb == "change" else ""
        return _page(request, row, edit=edit, forms={verb: form}, status=422)
    messages.success(request, SAID[verb])
    if verb == "send" and not keep_paper(request, row):
        messages.warning(
            request, "Its paper could not be kept: look whether the disk is full, and tell the lead."
        )
    if verb == "drop":
        return HttpResponse(status=303, headers={"Location": reverse("quotes", args=[number])})
    return _to(row)


def _do(request: StudioRequest, quote: Quote, verb: str, form: BaseForm) -> None:
    who: dict[str, Any] = {"by": request.actor, "at": request.now}
    typed: dict[str, Any] = form.cleaned_data
    if isinstance(form, LinesForm):
        _change(quote, form, who)
    elif isinstance(form, DateForm):
        offer_day(quote, typed["if_approved_by"], typed["confidence"], **who)
    else:
        act: dict[str, Callable[..., object]] = {
            "renew": quotes.renew_quote,
            "send": quotes.send_quote,
            "accept": quotes.accept_quote,
            "decline": quotes.decline_quote,
            "drop": quotes.drop_draft,
        }
        act[verb](quote, **typed, **who)


def _change(quote: Quote, form: LinesForm, who: dict[str, Any]) -> None:
    typed = form.cleaned_data
    lines = {
        number: quotes.LineChange(typed[f"words-{number}"], typed[f"amount-{number}"])
        for number in form.numbers
    }
    extra = None
    if typed["extra_words"]:
        amount = typed["extra_amount"]
        extra = LineDraft(typed["extra_group"], typed["extra_words"], amount, price=amount)
    quotes.change_quote(
        quote, valid_until=typed["valid_until"], terms=typed["terms"], lines=lines, extra=extra, **who
    )
