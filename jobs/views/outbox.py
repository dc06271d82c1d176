"""The way out of a tablet's outbox: what was tapped while the line was away, carried out in its order.

Each item is a transaction of its own, by the very action that a tap through the line would have met; its id makes one
that was carried out already answer as it did then. An item is answered as `done`; as `refused` with a sentence for its
person; or as `again`, when this one and all after it are to be sent once more in the same order.
"""

import logging
from typing import Any

from django.db import Error, OperationalError
from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils.translation import gettext, gettext_noop
from django.views.decorators.http import require_http_methods

from jobs.actions import Actor, Refused
from jobs.actions.late import Late, carry_out
from jobs.forms.bench import TapForm
from jobs.forms.outbox import NOT_UNDERSTOOD, BadBatch, Sent, Unreadable, read_batch
from jobs.models import Operation, Person
from jobs.views import tablet
from jobs.views.access import at_the_bench
from jobs.views.bench_taps import VERBS, Tapped, Verb, first_error
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import workshop_key

logger = logging.getLogger(__name__)
DONE, REFUSED, AGAIN = "done", "refused", "again"
BROKEN = gettext_noop(
    "The studio’s computer could not do that. Tell the lead, and write it down under My hours."
)
BAD_BATCH = 400


@require_http_methods(["GET", "POST"])
@at_the_bench
def bench_outbox(request: StudioRequest) -> HttpResponse:
    """A fresh token for forms; a post carries a batch out."""
    if request.method == "GET":
        return JsonResponse({"token": get_token(request)}, headers={"Cache-Control": "no-store"})
    try:
        items = read_batch(_body(request))
    except BadBatch as error:
        return JsonResponse({"sentence": str(error)}, status=BAD_BATCH)
    results: list[dict[str, str]] = []
    for item in items:
        results.append(_result(request, item))
        if results[-1]["state"] == AGAIN:
            break
    return JsonResponse({"results": results}, headers={"Cache-Control": "no-store"})


def _body(request: StudioRequest) -> bytes:
    """The batch. One that brings a photo is a form, with the batch in a field and the file beside it."""
    if request.content_type == "multipart/form-data":
        return request.POST.get("batch", "").encode(errors="replace")
    return request.body


def _result(request: StudioRequest, item: Sent | Unreadable) -> dict[str, str]:
    if isinstance(item, Unreadable):
        return {"id": item.id, "state": REFUSED, "sentence": gettext(item.sentence)}
    try:
        state, sentence = DONE, _carry_out(request, item)
    except Refused as refusal:
        state, sentence = REFUSED, refusal.sentence
    except OperationalError:
        logger.exception("A late tap has to be sent again")
        state, sentence = AGAIN, ""
    except (Error, ValueError, TypeError, OverflowError):
        # One that breaks whatever it meets may not keep back those behind it.
        logger.exception("A late tap could not be carried out")
        state, sentence = REFUSED, gettext(BROKEN)
    return {"id": str(item.id), "state": state, "sentence": sentence}


def _carry_out(request: StudioRequest, item: Sent) -> str:
    """What there is to say of it; Refused where it may not be, and then the lead is told."""
    verb = VERBS.get(item.verb)
    if verb is None:
        raise Refused(NOT_UNDERSTOOD)
    person = tablet.person_by(request, item.who)
    row = verb.row.find(item.pk, person.pk)
    operation = None if row is None else row if isinstance(row, Operation) else row.operation
    # What is of another workshop than the tablet is not there for it.
    if operation is None or workshop_key(request) not in (None, operation.job.workshop_id):
        raise Refused("That is not there any more.")
    form = verb.form(item.fields | {"client_id": str(item.id)}, request.FILES)
    # What takes long, such as a photo, is read before the transaction begins.
    form.is_valid()
    late = Late(item.id, item.verb, person, operation, min(item.at, request.now), item.fields)
    by = tablet.actor(request, person)
    return carry_out(late, lambda: _act(request, item, verb, form, row, person, by), by=by, at=request.now)


def _act(
    request: StudioRequest, item: Sent, verb: Verb, form: TapForm, row: Any, person: Person, by: Actor
) -> str:
    at = tablet.happened(item.at, request.now)
    if not form.is_valid():
        raise Refused(first_error(form))
    return verb.act(Tapped(row, person, form, by=by, at=at, late=True))
