"""The link to a customer's page: made, changed, revoked, made anew, and that it was read."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from jobs.models import CustomerLink, Job, Promise, Studio
from jobs.models.customer_links import digest_of, new_seed, token_of

from .base import Actor, Refused, changes, record

USUAL = timedelta(days=180)
# After the promised day a customer still wants the care instructions and the papers.
AFTER_PROMISE = timedelta(days=90)
LONGEST = timedelta(days=366 * 2)


@dataclass(frozen=True, slots=True)
class Shared:
    """Until when a link opens, and what it shows beside where the job stands and its drawings."""

    last_day: date
    shows_window: bool = True
    shows_papers: bool = True
    shows_prices: bool = False

    @classmethod
    def of(cls, link: CustomerLink) -> "Shared":
        return cls(link.last_day, link.shows_window, link.shows_papers, link.shows_prices)

    def values(self) -> dict[str, object]:
        return {name: getattr(self, name) for name in self.__slots__}


def today_of(at: datetime) -> date:
    return at.astimezone(Studio.current().zone).date()


def usual_last_day(job: Job, *, at: datetime) -> date:
    """Half a year, or three months after the promised day where that is later; never longer than may be."""
    today = today_of(at)
    promise = Promise.objects.filter(job=job).order_by("-given_at", "-pk").first()
    later = promise.day + AFTER_PROMISE if promise else today
    return min(max(today + USUAL, later), today + LONGEST)


def _check_office(by: Actor) -> None:
    if by.account is None or not by.is_office:
        raise Refused("Only the office gives links to customers.")


def _lock(job: Job, by: Actor) -> Job:
    _check_office(by)
    return Job.objects.select_for_update().get(pk=job.pk)


def _check_last_day(day: date, at: datetime) -> None:
    today = today_of(at)
    if day < today:
        raise Refused("That day is over.", "last_day")
    if day > today + LONGEST:
        raise Refused("A link opens for two years at most.", "last_day")


def _open_link(job: Job) -> CustomerLink:
    """The job's link that is not revoked, locked; it may have expired."""
    rows = CustomerLink.objects.select_for_update(of=("self",))
    link = rows.filter(job=job, revoked_at__isnull=True).first()
    if link is None:
        raise Refused("There is no link to this job's page.")
    link.job = job
    return link


def _make(job: Job, shared: Shared, by: Actor, at: datetime) -> CustomerLink:
    assert by.account is not None
    seed = new_seed()
    return CustomerLink.objects.create(
        job=job,
        seed=seed,
        digest=digest_of(token_of(seed)),
        made_at=at,
        made_by=by.account,
        **shared.values(),
    )


@transaction.atomic
def make_link(job: Job, shared: Shared, *, by: Actor, at: datetime) -> CustomerLink:
    """A link for the customer. Refuses a second one: the first may be made anew."""
    job = _lock(job, by)
    _check_last_day(shared.last_day, at)
    if CustomerLink.objects.filter(job=job, revoked_at__isnull=True).exists():
        raise Refused("There is a link already; change it, or make it anew.")
    link = _make(job, shared, by, at)
    record("made", link, by=by, at=at, after=shared.values())
    return link


@transaction.atomic
def change_link(job: Job, shared: Shared, *, by: Actor, at: datetime) -> CustomerLink:
    """Another last day, or something else shared; the address stays, and one that has expired opens again."""
    job = _lock(job, by)
    link = _open_link(job)
    before, after = changes(link, shared.values())
    if "last_day" in after:
        _check_last_day(shared.last_day, at)
    if after:
        for name, value in after.items():
            setattr(link, name, value)
        link.save(update_fields=list(after))
        record("changed", link, by=by, at=at, before=before, after=after)
    return link


def _revoke(link: CustomerLink, by: Actor, at: datetime) -> None:
    link.revoked_at, link.revoked_by = at, by.account
    link.save(update_fields=["revoked_at", "revoked_by"])


@transaction.atomic
def revoke_link(job: Job, *, by: Actor, at: datetime) -> CustomerLink:
    """From this minute the address opens nothing, for ever."""
    job = _lock(job, by)
    link = _open_link(job)
    _revoke(link, by, at)
    record("revoked", link, by=by, at=at, before={"revoked": False}, after={"revoked": True})
    return link


@transaction.atomic
def renew_link(job: Job, *, by: Actor, at: datetime) -> CustomerLink:
    """Another address that shows the same; the one before opens nothing any more."""
    job = _lock(job, by)
    old = _open_link(job)
    shared = Shared.of(old)
    if shared.last_day < today_of(at):
        shared = Shared(usual_last_day(job, at=at), *(getattr(old, name) for name in Shared.__slots__[1:]))
    _revoke(old, by, at)
    link = _make(job, shared, by, at)
    record("made anew", link, by=by, at=at, after=shared.values())
    return link


def note_read(link: CustomerLink, *, by: Actor, at: datetime) -> None:
    """The customer has opened the page. Not an Event: it changes nothing, and would renew every screen of the floor.

    The studio's own people do not count.
    """
    if by.account is not None:
        return
    CustomerLink.objects.filter(Q(last_read_at__lte=at) | Q(last_read_at__isnull=True), pk=link.pk).update(
        times_read=F("times_read") + 1, first_read_at=Coalesce("first_read_at", at), last_read_at=at
    )
