"""The words of mail: the usual ones, and how what is in braces is filled in. No template language, only a closed list.

A value that there is not (no quote, no link) leaves its name in double brackets; nothing is sent while they stand.
"""

import re
from collections.abc import Mapping
from datetime import date

from django.conf import settings
from django.utils import timezone

from jobs.models import (
    CustomerLink,
    Job,
    MailKind,
    MailTemplate,
    Projection,
    Promise,
    Quote,
    QuoteState,
    Studio,
)
from jobs.models.changed_days import reason_told

from .base import Refused, in_words

PLACEHOLDERS: dict[str, str] = {
    "contact": "the person to write to, or the customer's name",
    "customer": "the customer's name",
    "number": "the number of the job",
    "title": "what the job is",
    "promised": "the day promised",
    "before": "the day promised before that",
    "reason": "why the day changed",
    "likely": "the day that holds with 80 %",
    "total": "the total of the quote sent last, with its currency",
    "valid": "until when that quote is valid",
    "page": "the address of the customer's page",
    "studio": "the name of the studio",
}
DEFAULTS: dict[str, tuple[str, str]] = {
    MailKind.QUOTE: (
        "Our quote for {title} ({number})",
        "Dear {contact},\n\nhere is our quote for {title}: {total}. It is valid until {valid}.\n\n"
        "If you have any question, please answer this mail.\n\nKind regards\n{studio}\n",
    ),
    MailKind.APPROVAL: (
        "Please look at the drawing of {title} ({number})",
        "Dear {contact},\n\nthe drawing of {title} is ready for you. No glass is cut before you have approved it.\n\n"
        "Your page: {page}\n\nKind regards\n{studio}\n",
    ),
    MailKind.AT_RISK: (
        "The date of {title} ({number}) is at risk",
        "Dear {contact},\n\nwe promised you {title} for {promised}. That day is at risk now, and we would rather tell "
        "you early. As things stand it is ready by {likely}.\n\nWe will tell you as soon as we know more.\n\n"
        "Kind regards\n{studio}\n",
    ),
    MailKind.NEW_DATE: (
        "A new date for {title} ({number})",
        "Dear {contact},\n\n{title} was promised for {before}. The new date is {promised}.\n\nThe reason: {reason}\n\n"
        "Kind regards\n{studio}\n",
    ),
    MailKind.READY: (
        "{title} ({number}) is ready",
        "Dear {contact},\n\n{title} is finished and packed. We will agree with you on the day on which it comes to "
        "you.\n\nKind regards\n{studio}\n",
    ),
    MailKind.INSTALLED: (
        "{title} ({number}) is in its place",
        "Dear {contact},\n\n{title} is installed. Thank you for the commission. How to care for it is in the papers "
        "that come with this mail or that we handed you.\n\nKind regards\n{studio}\n",
    ),
}
_MARK = re.compile(r"\{([^{}]*)\}")
_MISSING = re.compile(r"\[\[([^\[\]]*)\]\]")


def check_words(text: str, field: str) -> None:
    """Refuse a placeholder that is not in the list, naming it, and a brace without its pair."""
    for name in _MARK.findall(text):
        if name not in PLACEHOLDERS:
            known = ", ".join(f"{{{each}}}" for each in PLACEHOLDERS)
            raise Refused(f"There is nothing called {{{name}}}. There are {known}.", field)
    if set(_MARK.sub("", text)) & set("{}"):
        raise Refused("A brace stands without its pair.", field)


def fill(text: str, values: Mapping[str, str]) -> str:
    """The text with its values, each put in once: a brace inside a value stays what it is."""
    return _MARK.sub(lambda found: values.get(found[1]) or f"[[{found[1]}]]", text)


def missing(text: str) -> list[str]:
    """What stands in double brackets still."""
    return _MISSING.findall(text)


def words_of(kind: str) -> tuple[str, str]:
    """Subject and text of a kind of mail, as the studio wrote them or the usual ones."""
    own = MailTemplate.objects.filter(kind=kind).first()
    return (own.subject, own.body) if own else DEFAULTS[kind]


def values_of(job: Job) -> dict[str, str]:
    """What the placeholders stand for in this job now; empty where there is nothing."""
    studio = Studio.current()
    given = list(Promise.objects.filter(job=job).order_by("-given_at", "-pk"))
    last = given[0] if given else None
    before = next((each.day for each in given if last and each.day != last.day), None)
    projection = Projection.objects.filter(job=job).first()
    quote = Quote.objects.filter(job=job).exclude(state=QuoteState.DRAFT).order_by("-version").first()
    customer = job.customer
    return {
        "contact": customer.contact or customer.name,
        "customer": customer.name,
        "number": job.number,
        "title": job.title,
        "promised": _day(last.day if last else None),
        "before": _day(before),
        # A reason that speaks of others is left to be written.
        "reason": reason_told(job, last) if last else "",
        "likely": _day(timezone.localdate(projection.p80, studio.zone) if projection else None),
        "total": f"{quote.total:,.2f} {studio.currency}" if quote else "",
        "valid": _day(quote.valid_until if quote else None),
        "page": _page(job),
        "studio": studio.name,
    }


def _day(day: date | None) -> str:
    return in_words(day) if day else ""


def _page(job: Job) -> str:
    """Known only where the installation's own address is."""
    link = CustomerLink.objects.filter(job=job, revoked_at__isnull=True).first()
    address = str(settings.PUBLIC_ADDRESS).rstrip("/")
    return f"{address}/c/{link.token}/" if link and link.token and address else ""
