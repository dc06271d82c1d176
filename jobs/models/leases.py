"""What only one process may do at a time, and which processes live: rows that have to be renewed to go on holding."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.db import IntegrityError, models, transaction
from django.db.models.functions import Now


class LeaseQuerySet(models.QuerySet["Lease"]):
    """All times are the database's: the clocks of the machines that share it may differ."""

    def living(self) -> "LeaseQuerySet":
        return self.filter(until__gt=Now())

    def take(self, name: str, seconds: float) -> "str | None":
        """The new holder's mark; None while another holds it. One that has run out is anybody's."""
        holder = uuid4().hex
        free = self.filter(name=name, until__lte=Now())
        if free.update(holder=holder, until=_from_now(seconds)):
            return holder
        try:
            with transaction.atomic(using=self.db):
                self.create(name=name, holder=holder, until=_from_now(seconds))
        except IntegrityError:
            return None
        return holder

    def renew(self, name: str, holder: str, seconds: float) -> bool:
        """False: it ran out, and somebody else has taken it or cleared it away."""
        return bool(self.filter(name=name, holder=holder).update(until=_from_now(seconds)))

    def end(self, name: str, holder: str) -> None:
        self.filter(name=name, holder=holder).delete()


def _from_now(seconds: float) -> Any:
    return Now() + timedelta(seconds=seconds)


class Lease(models.Model):
    """`name` is what is held: a process's life, or the making of dates. `holder` is a mark that only its holder knows:
    who was away for so long that another took it over finds another mark, and keeps nothing of what they did."""

    name = models.CharField(max_length=80, primary_key=True)
    holder = models.CharField(max_length=32)
    until = models.DateTimeField(db_index=True)

    objects = LeaseQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
