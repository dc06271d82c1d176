"""Promises that are about to be broken: noticed when the dates are made, and reported once each, with the reason."""

import logging
from datetime import datetime

from django.db import transaction
from django.db.models import OuterRef, Subquery

from jobs import planning
from jobs.models import Event, MailKind, Promise, Stage, Studio
from jobs.planning.why import Reasons

from .base import SYSTEM, record
from .mail_drafts import draft_for

logger = logging.getLogger(__name__)

SLIPPED = "has become doubtful"
# A promise is given with the studio's confidence; a little below that it is noise, three quarters of it is not.
LIMIT_SHARE = 0.75
# Reasons take their time; what is over this is reported when the dates are next made.
AT_ONCE = 5


def limit(studio: Studio) -> float:
    """The chance below which a promise is reported."""
    return float(studio.confidence) * LIMIT_SHARE


def newly_doubtful(studio: Studio) -> list[Promise]:
    """The promises in force whose chance has fallen below the limit and that were not reported, the least likely
    first. One query."""
    last = Promise.objects.filter(job=OuterRef("job")).order_by("-given_at", "-pk")
    reported = Event.objects.filter(subject="promise", verb=SLIPPED).values("subject_id")
    return list(
        Promise.objects.filter(job__stage=Stage.ORDERED, job__projection__chance__lt=limit(studio))
        .filter(pk=Subquery(last.values("pk")[:1]))
        .exclude(pk__in=reported)
        .select_related("job__projection")
        .order_by("job__projection__chance", "pk")
    )


def report_doubtful(shop: planning.Shop, studio: Studio, *, at: datetime) -> list[Event]:
    """Write down each promise that has newly become doubtful, with its chance and why. Two at once report once."""
    found: list[Event] = []
    doubtful = newly_doubtful(studio)[:AT_ONCE]
    if not doubtful:
        return found
    reasons = Reasons(shop, now=at)
    for promise in doubtful:
        chain = reasons.of(job=promise.job_id)
        reason = chain.sentence if chain is not None else ""
        chance = float(promise.job.projection.chance or 0)
        with transaction.atomic():
            locked = Promise.objects.select_for_update(of=("self",)).select_related("job").get(pk=promise.pk)
            if Event.objects.filter(subject="promise", subject_id=promise.pk, verb=SLIPPED).exists():
                continue
            # A day that is over is not at risk: the customer is told another day, not that one.
            if locked.day >= at.astimezone(studio.zone).date():
                draft_for(MailKind.AT_RISK, locked.job, f"promise:{locked.pk}", at=at)
            told = {"day": locked.day, "chance": round(chance, 3)}
            found.append(record(SLIPPED, locked, by=SYSTEM, at=at, after=told, why=reason[:200]))
        logger.warning("The promise %s has become doubtful: %.0f %%. %s", promise, 100 * chance, reason)
    return found
