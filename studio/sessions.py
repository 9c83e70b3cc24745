"""How long a session lasts: a while unused, and never longer than a limit.

The database row alone says so; the cookie lives as long as the limit, so that nothing
has to be sent again while somebody works.
"""

from datetime import UTC, datetime, timedelta
from typing import Any

from django.conf import settings
from django.contrib.sessions.backends import db
from django.contrib.sessions.base_session import AbstractBaseSession
from django.utils import timezone

BEGAN = "began"
"""Session key: when its person signed in, in seconds since 1970."""

STEP = timedelta(minutes=5)
"""How much later a session must end before that is written: not with every request."""


def end_of(began: float | None, now: datetime) -> datetime:
    """Return when a session ends that is used now."""
    end = now + timedelta(hours=settings.IDLE_HOURS)
    if began is None:
        return end
    limit = timedelta(seconds=settings.SESSION_COOKIE_AGE)
    return min(end, datetime.fromtimestamp(began, tz=UTC) + limit)


class SessionStore(db.SessionStore):
    """Django's sessions in the database, which know when they end."""

    ends_at: datetime | None = None
    """As the database has it; none before it was read."""

    def load(self) -> dict[str, Any]:
        """Read the session, and when it ends."""
        row = self._get_session_from_db()  # type: ignore[attr-defined] # the stubs lack it
        if row is None:
            return {}
        self.ends_at = row.expire_date
        return self.decode(row.session_data)

    def create_model_instance(self, data: dict[str, Any]) -> AbstractBaseSession:
        """Return the row to write."""
        row = super().create_model_instance(data)
        row.expire_date = end_of(data.get(BEGAN), timezone.now())
        return row
