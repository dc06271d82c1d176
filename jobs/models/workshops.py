"""Workshops under one roof: each has its own stations, people and jobs, and they share nothing but the studio.

A studio has one from its beginning (row 1), which nobody sees until there are two.
"""

from typing import Any

from django.core.management.color import no_style
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Q

from .prepared import Prepared

FIRST = 1  # What rows are of where nothing is said.


class Workshop(models.Model):
    name = models.CharField(max_length=40, unique=True)
    slug = models.SlugField(max_length=40, unique=True)
    place = models.PositiveSmallIntegerField("order in lists", default=0)

    class Meta:
        ordering = ["place", "name"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="workshop_name_not_empty"),
            models.CheckConstraint(condition=~Q(slug=""), name="workshop_slug_not_empty"),
        ]

    def __str__(self) -> str:
        return self.name


_ALL = Prepared(lambda: Workshop.objects.all())


def read_workshops() -> list[Workshop]:
    """All of them, in their order: one query."""
    return _ALL()


def make_first(connection: BaseDatabaseWrapper) -> None:
    """The workshop of a studio that has no other, where it is not there."""
    rows = Workshop.objects.using(connection.alias)
    if rows.exists():
        return
    rows.create(pk=FIRST, name="Workshop", slug="workshop")
    # PostgreSQL counts on from where it was, which is not what was just given by hand.
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [Workshop]):
            cursor.execute(statement)


def make_first_after_migrate(*, using: str, **_: Any) -> None:
    """A receiver of `post_migrate`, which an emptied database sends too: nothing where the table is not there yet."""
    from django.db import connections

    connection = connections[using]
    if Workshop._meta.db_table in connection.introspection.table_names():
        make_first(connection)
