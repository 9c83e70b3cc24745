"""A calendar feed as a file: iCalendar (RFC 5545, 7986), written by a package."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar, Event

from firing.kiln_time.selectors.feeds import Entry

# How often a calendar program should ask again.
ASK_AGAIN = timedelta(minutes=30)


def feed_file(
    entries: Iterable[Entry], *, name: str, source: str, origin: str, studio: str
) -> bytes:
    """Return the file. Instants are in UTC, which every program shows in its own zone.

    `studio` tells one studio's entries from all others'. It is the same while nothing changes: `DTSTAMP` is when an entry was changed last.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Slowcool//Kiln time//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("name", name)
    # What some programs read instead of NAME.
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", ASK_AGAIN, parameters={"VALUE": "DURATION"})
    calendar.add("source", source, parameters={"VALUE": "URI"})
    for one in entries:
        calendar.add_component(_event(one, studio=studio, origin=origin))
    written: bytes = calendar.to_ical()
    return written


def _event(one: Entry, *, studio: str, origin: str) -> Event:
    event = Event()
    # The same under whatever address the studio is reached (RFC 7986, section 5.3).
    event.add("uid", str(uuid5(NAMESPACE_URL, f"slowcool:{studio}:{one.key}")))
    event.add("dtstamp", one.changed_at.astimezone(UTC))
    event.add("last-modified", one.changed_at.astimezone(UTC))
    event.add("sequence", one.sequence)
    event.add("summary", one.title)
    for name, at in (("dtstart", one.starts), ("dtend", one.ends)):
        event.add(name, at.astimezone(UTC) if isinstance(at, datetime) else at)
    event.add("url", f"{origin}{one.path}")
    if one.place:
        event.add("location", one.place)
    if one.note:
        event.add("description", one.note)
    status = "TENTATIVE" if one.is_provisional else "CONFIRMED"
    event.add("status", "CANCELLED" if one.is_cancelled else status)
    event.add("transp", "OPAQUE" if one.blocks else "TRANSPARENT")
    return event
