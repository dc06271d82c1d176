"""Who stands at a tablet: kept in its session for a while, since the tablet itself stays signed in."""

from django.http import HttpResponseRedirect

from jobs.actions import Actor
from jobs.models import Person
from jobs.views.middleware import StudioRequest

# After this long without a tap the names are shown again.
IDLE_SECONDS = 600
# The session is written again only after this long, so that not every page costs a write.
RENEW_SECONDS = 30
KEY = "at_the_bench"


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
    person = Person.objects.filter(pk=kept["person"], active=True).first() if idle < IDLE_SECONDS else None
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
