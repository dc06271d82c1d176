"""Sessions in rows that say whose they are (jobs.models.SignedIn), so that they can be listed and ended."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, ClassVar

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends import db
from django.utils import timezone

TABLET_KEY = "tablet"


class SessionStore(db.SessionStore):
    """Django's own, with its class's name, by which it signs: what was signed in before stays so.

    `row` is the row that was read, None where there is none. `about` tells from where a request comes: address, agent.
    """

    row: Any = None
    about: Callable[[], Mapping[str, Any]] | None = None
    _found: ClassVar[Any] = None

    @classmethod
    def get_model_class(cls) -> Any:
        from jobs.models import SignedIn

        return SignedIn

    def _get_session_from_db(self) -> Any:
        self.row = self._prepared().first(self.session_key, timezone.now())
        if self.row is None:
            self._session_key = None
        return self.row

    def flush(self) -> None:
        super().flush()
        self.row = None

    @classmethod
    def _prepared(cls) -> Any:
        """The one query of each request, with the tablet that the session is bound to."""
        if cls._found is None:
            from jobs.models.prepared import Prepared

            cls._found = Prepared(
                lambda key, now: (
                    cls.get_model_class()
                    .objects.filter(session_key=key, expire_date__gt=now)
                    .select_related("tablet")
                )
            )
        return cls._found

    def create_model_instance(self, data: Mapping[str, Any]) -> Any:
        row: Any = super().create_model_instance(data)  # type: ignore[arg-type]
        row.account_id, row.tablet_id = _key(data.get(SESSION_KEY)), data.get(TABLET_KEY)
        known = self.row
        if known is not None and known.pk == row.pk:
            row.handle = known.handle
        if known is not None and known.account_id == row.account_id:
            row.since, row.seen, row.address, row.agent = known.since, known.seen, known.address, known.agent
        else:
            row.since = row.seen = _now()
            for name, value in (self.about() if self.about else {}).items():
                setattr(row, name, value)
        self.row = row
        return row


def _now() -> datetime:
    return timezone.now()


def _key(account: Any) -> int | None:
    return int(account) if account else None
