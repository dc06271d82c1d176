"""Who is at the tablet: the PIN of a person, where the studio asks for one.

It is kept hashed. Since it is short, what keeps it is that few can be tried: at one tablet, and of one person.
"""

from datetime import datetime

from django.contrib.auth.hashers import check_password

from jobs.models import Person, Studio

from .base import Actor, Refused, record
from .throttle import count, forgive

MINUTES_10, DAY = 600, 86_400
# Wrong ones within ten minutes: of one person at one tablet, and at one tablet whoever is named.
TRIES, TRIES_AT_TABLET = 5, 15
# Of one person at all tablets within a day: four digits then stand for most of a year.
TRIES_A_DAY = 30


def asked_of(person: Person, studio: Studio) -> bool:
    """Whether a PIN is asked of the person: the studio asks, and they have one."""
    return studio.asks_pin and bool(person.pin)


def check_pin(person: Person, pin: str, *, by: Actor, at: datetime) -> None:
    """Refuse a PIN that is not the person's, and after too many wrong ones even the right one until their time has
    passed; every wrong one is written down. A tablet is told by its account.

    Each try is counted before it is looked at, so that many at once are as many as they are, and a right one is taken
    off the count again.
    """
    studio = Studio.current()
    if not asked_of(person, studio):
        return
    tablet = by.account.pk if by.account else 0
    here, at_tablet, of_person = f"pin:{person.pk}:{tablet}", f"pin-at:{tablet}", f"pin-of:{person.pk}"
    spans = {here: MINUTES_10, at_tablet: MINUTES_10, of_person: DAY}
    numbers = count(spans, at=at)
    if numbers[of_person] > TRIES_A_DAY:
        raise Refused(
            "Too many wrong PINs for %(person)s today. The lead can give a new one.", "pin", person=person
        )
    if numbers[here] > TRIES or numbers[at_tablet] > TRIES_AT_TABLET:
        raise Refused("Too many wrong PINs for %(person)s. Try again in ten minutes.", "pin", person=person)
    if not check_password(pin, person.pin):
        record("mistyped the PIN", person, by=by, at=at)
        raise Refused("That is not the PIN.", "pin")
    forgive(spans, at=at)
