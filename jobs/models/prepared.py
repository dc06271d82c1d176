"""Queries that are put together once and asked again and again.

To put a query of a page together costs several times what it costs the database to answer it, and it is the same
query each time but for the time asked about. A `Prepared` keeps the SQL and puts the values of the day into it.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import QuerySet

_TIME, _DAY, _NUMBER = datetime(1801, 1, 1, 1, 1, 1, tzinfo=UTC), date(1801, 1, 1), 7_000_000_001


class Prepared:
    """`Prepared(build)`: build(*values) gives a queryset, and calling this with such values its rows, as a list.

    The values are times, days, keys or texts, and must go into the query as they are: `build` may not look at them,
    since it is called once for each connection with stand-ins for them. No list of values, and never None, which SQL
    compares in another way.
    """

    def __init__(self, build: Callable[..., QuerySet[Any, Any]]) -> None:
        self.build = build

    def __call__(self, *values: Any) -> list[Any]:
        kept = connections[DEFAULT_DB_ALIAS].__dict__.setdefault("_prepared", {})
        asked = kept.get(self)
        if asked is None:
            asked = kept[self] = _Asked(self.build, values)
        rows: list[Any] = asked.rows(values)
        return rows

    def first(self, *values: Any) -> Any:
        """The first row; None where there is none. `build` should ask for no more than one."""
        return next(iter(self(*values)), None)


class _Asked:
    """A queryset on one connection, whose compiler gives the SQL it has made before."""

    def __init__(self, build: Callable[..., QuerySet[Any, Any]], values: tuple[Any, ...]) -> None:
        marks = [_stand_in(value, place) for place, value in enumerate(values)]
        self.queryset = build(*marks)
        query: Any = self.queryset.query
        compiler = query.get_compiler(using=self.queryset.db)
        self.ops, self.features = compiler.connection.ops, compiler.connection.features
        sql, self.template = compiler.as_sql()
        adapted = [self._adapted(mark) for mark in marks]
        # Where each value goes: a stand-in is like nothing else in the query.
        self.places = [(n, adapted.index(p)) for n, p in enumerate(self.template) if p in adapted]
        missing = set(range(len(marks))) - {place for _, place in self.places}
        if missing:
            raise ValueError(f"The query does not use the values {missing} as they are.")
        self.params = self.template
        compiler.as_sql = lambda *_, **__: (sql, self.params)
        converters = compiler.get_converters([column for column, *_ in compiler.select[: compiler.col_count]])
        compiler.get_converters = lambda _: converters
        query.get_compiler = lambda *_, **__: compiler

    def rows(self, values: tuple[Any, ...]) -> list[Any]:
        adapted = [self._adapted(value) for value in values]
        params = list(self.template)
        for n, place in self.places:
            params[n] = adapted[place]
        self.params = tuple(params)
        rows: Any = self.queryset._iterable_class(self.queryset)
        return [*rows]

    def _adapted(self, value: Any) -> Any:
        match value:
            case None:
                raise ValueError("None is compared in another way.")
            case datetime():
                return self.ops.adapt_datetimefield_value(value.astimezone(UTC))
            case date():
                return self.ops.adapt_datefield_value(value)
            case UUID():
                return value if self.features.has_native_uuid_field else value.hex
        return value


def _stand_in(value: Any, place: int) -> Any:
    match value:
        case datetime():
            return _TIME + timedelta(days=place)
        case date():
            return _DAY + timedelta(days=place)
        case int():
            return _NUMBER + place
        case UUID():
            return UUID(int=_NUMBER + place)
        case str():
            return f"stand-in {place}"
    raise TypeError(f"A prepared query takes times, days, keys and texts, not {value!r}.")
