"""Who stands at a tablet: kept in its session for a while, since the tablet itself stays signed in."""

from datetime import datetime, timedelta

from django.core.signing import BadSignature, Signer
from django.http import HttpResponseRedirect

from jobs.actions import Actor, Refused
from jobs.models import Person
from jobs.models.prepared import Prepared
from jobs.views.middleware import StudioRequest

# After this long without a tap the names are shown again.
IDLE_SECONDS = 600
# The session is written again only after this long, so that not every page costs a write.
RENEW_SECONDS = 30
KEY = "at_the_bench"
# What waits in a tablet longer than this is no longer taken as a tap: the lead writes it down by hand.
OLDEST = timedelta(days=14)
# Clocks are measured through the air: so far ahead a tap may seem to be.
AHEAD = timedelta(minutes=2)
_ACTIVE = Prepared(lambda pk: Person.objects.filter(pk=pk, active=True))
MARKS = Signer(salt="jobs.views.tablet")


class SeeOther(HttpResponseRedirect):
    """After a tap: the page is fetched anew, so that going back repeats nothing."""

    status_code = 303


def person_of(request: StudioRequest) -> Person | None:
    """Whoever tapped their name here, unless nobody has tapped anything for a while."""
    kept = request.session.get(KEY)
    if not kept:
        return None
    now = int(request.now.timestamp())
    idle = now - kept["seen"]
    person: Person | None = _ACTIVE.first(kept["person"]) if idle < IDLE_SECONDS else None
    if person is None:
        del request.session[KEY]
    elif idle > RENEW_SECONDS and not looks_by_itself(request):
        remember(request, person)
    return person


def looks_by_itself(request: StudioRequest) -> bool:
    """Whether the page renews itself, so that nobody has tapped anything."""
    return "X-Renews" in request.headers


def remember(request: StudioRequest, person: Person) -> None:
    request.session[KEY] = {"person": person.pk, "seen": int(request.now.timestamp())}


def forget(request: StudioRequest) -> None:
    request.session.pop(KEY, None)


def actor(request: StudioRequest, person: Person) -> Actor:
    """The account of the tablet and the person at it."""
    return Actor(account=request.actor.account, person=person)


def mark_of(request: StudioRequest, person: Person | None) -> str:
    """What a tablet shows later to prove that this person tapped their name at it, while the line was still there."""
    if person is None:
        return ""
    facts = {
        "account": request.user.pk,
        "person": person.pk,
        "since": int(request.now.timestamp()),
    }
    return MARKS.sign_object(facts)


def person_by(request: StudioRequest, mark: str) -> Person:
    """Who tapped while the line was away; Refused where the mark is not one that this account's tablet was given."""
    try:
        facts = MARKS.unsign_object(mark)
    except BadSignature as error:
        raise Refused("It cannot be told who tapped that. Write it down under My hours.") from error
    if facts["account"] != request.user.pk:
        raise Refused(
            "That was tapped while another account was signed in here. Sign in as that one to send it."
        )
    since = datetime.fromtimestamp(facts["since"], request.now.tzinfo)
    if request.now - since > OLDEST + timedelta(days=1):
        raise Refused("That is too old to be sent. Tell the lead, who can still write it down.")
    person: Person | None = _ACTIVE.first(facts["person"])
    if person is None:
        raise Refused("Whoever tapped that is no longer on the list of people who work here.")
    return person


def happened(at: datetime, now: datetime) -> datetime:
    """The time of a tap that comes late, never after now; Refused where it cannot have been then."""
    if at > now + AHEAD:
        raise Refused(
            "That time is still to come: the tablet’s clock is wrong. Write it down under My hours."
        )
    if now - at > OLDEST:
        raise Refused(
            "That was more than %(days)s days ago. Tell the lead, who can still write it down.",
            days=OLDEST.days,
        )
    return min(at, now)
