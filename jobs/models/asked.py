"""How often somebody who is not signed in has asked: counts that every process of the server shares."""

from collections.abc import Mapping
from datetime import datetime

from django.db import connections, models


class AskedQuerySet(models.QuerySet["Asked"]):
    def one_more(self, whats: Mapping[str, datetime]) -> dict[str, int]:
        """Count each of these once more; what each of them comes to. `whats`: until when each count is kept.

        One statement, so that two processes never count the same request as one: neither Django's caches nor
        `update_or_create` can do that without a lock. SQLite (from 3.35) and PostgreSQL read it alike.
        """
        rows = ", ".join(["(%s, 1, %s)"] * len(whats))
        table = self.model._meta.db_table
        connection = connections[self.db]
        values = [
            value
            for what, until in whats.items()
            for value in (what, connection.ops.adapt_datetimefield_value(until))
        ]
        with connection.cursor() as cursor:
            # The names are the model's own; what is asked for travels as parameters.
            cursor.execute(
                f"INSERT INTO {table} (what, number, until) VALUES {rows} "  # noqa: S608  # nosec B608  # The names are the model's own.
                f"ON CONFLICT (what) DO UPDATE SET number = {table}.number + 1 RETURNING what, number",
                values,
            )
            return dict(cursor.fetchall())

    def numbers(self, whats: Mapping[str, datetime]) -> dict[str, int]:
        """What has been counted of these; those of which nothing was are not in it."""
        return dict(self.filter(what__in=list(whats)).values_list("what", "number"))


class Asked(models.Model):
    """`what` names what is counted and in which span of time; the row is of no use after `until`."""

    what = models.CharField(max_length=120, unique=True)
    number = models.PositiveIntegerField()
    until = models.DateTimeField(db_index=True)

    objects = AskedQuerySet.as_manager()

    class Meta:
        ordering = ["until"]
        verbose_name_plural = "asked"

    def __str__(self) -> str:
        return f"{self.what}: {self.number}"
