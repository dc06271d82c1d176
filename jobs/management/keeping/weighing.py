"""What a database knows of how much lies in its tables."""

from django.db.backends.base.base import BaseDatabaseWrapper


def weigh(connection: BaseDatabaseWrapper) -> None:
    """Let PostgreSQL look at what was written in one go: it plans as for empty tables until it has, and then takes
    minutes for what takes milliseconds. It would look by itself, but later, and never within a transaction."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
