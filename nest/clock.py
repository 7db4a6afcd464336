"""The clock on the wall: asked for what is written down, such as the time on a drawing or of a booking.

Nothing is measured by it and no result depends on it, for it may be set back; for that there is `time.monotonic`.
"""

from datetime import UTC, date, datetime


def now() -> datetime:
    """The time, in UTC."""
    return datetime.now(UTC)


def today() -> date:
    """The date here."""
    return date.today()
