"""Who is at the tablet: the PIN of a person, where the studio asks for one."""

from datetime import datetime, timedelta

from django.contrib.auth.hashers import check_password

from jobs.models import Event, Person, Studio

from .base import Actor, Refused, record

TRIES = 5
WAIT = timedelta(minutes=10)


def asked_of(person: Person, studio: Studio) -> bool:
    """Whether a PIN is asked of the person: the studio asks, and they have one."""
    return studio.asks_pin and bool(person.pin)


def check_pin(person: Person, pin: str, *, by: Actor, at: datetime) -> None:
    """Refuse a PIN that is not the person's. After five wrong ones within ten minutes even the right one is refused
    until they have passed; every wrong one is written down."""
    studio = Studio.current()
    if not asked_of(person, studio):
        return
    wrong = Event.objects.filter(
        subject="person", subject_id=person.pk, verb="mistyped the PIN", at__gt=at - WAIT
    )
    if wrong.count() >= TRIES:
        raise Refused("Too many wrong PINs for %(person)s. Try again in ten minutes.", "pin", person=person)
    if not check_password(pin, person.pin):
        record("mistyped the PIN", person, by=by, at=at)
        raise Refused("That is not the PIN.", "pin")
