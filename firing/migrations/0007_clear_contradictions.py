"""Clears what the constraints of the next migration refuse, and old judgements.

- A firing has its booking's kiln. A cancelled firing's booking is cancelled; a firing
  that was not started is cancelled with its booking. Where a started one's booking was
  cancelled, the booking stands again if its time is free, else the firing is cancelled
  and its note says when it was recorded as started and as finished.
- Of two firings that run in one kiln the one that was started last runs. The others are
  cancelled: their loads wait again, and their notes say when they were started.
- A planned item is a pass of a layer or a stack. Where both or neither is said, its pass
  tells; without one it goes, and the next plan has it again. Planned work of no known
  task goes too.
- Of a firing's judgements the newest and the one before stay.
"""

from collections import defaultdict

from django.db import migrations
from django.db.models import F, Q
from django.utils import timezone

TASKS = ("paint", "assembly", "coldwork")
KEPT_JUDGEMENTS = 2


def clear(apps, schema_editor):
    using = schema_editor.connection.alias

    def rows(name):
        return apps.get_model("firing", name)._base_manager.using(using)

    events = apps.get_model("studio", "PieceEvent")._base_manager.using(using)
    agree_with_bookings(rows, events)
    let_one_run(rows, events)
    name_one_thing(rows)
    rows("PlannedWork").exclude(task__in=TASKS).delete()
    forget_judgements(rows("Judgement"))


def agree_with_bookings(rows, events):
    firings, bookings = rows("Firing"), rows("Booking")
    for one in firings.exclude(kiln=F("booking__kiln")).select_related("booking"):
        one.kiln_id = one.booking.kiln_id
        one.save(update_fields=["kiln"])
    cancelled = firings.filter(cancelled_at__isnull=False)
    for one in cancelled.filter(booking__cancelled_at__isnull=True):
        bookings.filter(pk=one.booking_id).update(
            cancelled_at=one.cancelled_at, cancelled_reason="Its firing was cancelled"
        )
    given_back = firings.filter(booking__cancelled_at__isnull=False)
    for one in given_back.select_related("booking").order_by("pk"):
        if one.started_at is None:
            if one.cancelled_at != one.booking.cancelled_at:
                one.cancelled_at = one.booking.cancelled_at
                one.save(update_fields=["cancelled_at"])
            continue
        booking = one.booking
        others = bookings.filter(
            kiln=booking.kiln_id,
            cancelled_at__isnull=True,
            starts_at__lt=booking.ends_at,
            ends_at__gt=booking.starts_at,
        )
        if others.exists():
            call_off(one, booking.cancelled_at, events, "Its kiln time was given back")
        else:
            booking.cancelled_at, booking.cancelled_reason = None, ""
            booking.save(update_fields=["cancelled_at", "cancelled_reason"])


def let_one_run(rows, events):
    running = defaultdict(list)
    found = rows("Firing").filter(started_at__isnull=False, finished_at__isnull=True)
    for one in found.select_related("booking").order_by("started_at", "pk"):
        running[one.kiln_id].append(one)
    now = timezone.now()
    for earlier in (some[:-1] for some in running.values()):
        for one in earlier:
            call_off(one, now, events, "Another firing was started in its kiln")
            one.booking.cancelled_at = now
            one.booking.cancelled_reason = "Another firing was started in its kiln"
            one.booking.save(update_fields=["cancelled_at", "cancelled_reason"])


def call_off(firing, at, events, why):
    """Cancel a started firing; its stacks stand where they stood before it."""
    said = f"{why}. It was recorded as started {firing.started_at:%Y-%m-%d %H:%M} UTC"
    if firing.finished_at is not None:
        said += f" and as finished {firing.finished_at:%Y-%m-%d %H:%M} UTC"
    else:
        pieces = firing.items.filter(piece__isnull=False).values_list(
            "piece", flat=True
        )
        events.filter(
            piece__in=list(pieces), kind="into kiln", at=firing.started_at
        ).delete()
    firing.note = f"{firing.note}\n{said}.".strip()
    firing.started_at = firing.finished_at = None
    firing.cancelled_at = at
    firing.save(update_fields=["note", "started_at", "finished_at", "cancelled_at"])


def name_one_thing(rows):
    items = rows("PlannedItem")
    is_stack = Q(layer__isnull=True, of_pass__isnull=True, attempt=0, number=0)
    is_pass = Q(layer__isnull=False, attempt__gte=1, number__gte=1)
    for one in (
        items.exclude(is_stack).exclude(is_pass).select_related("of_pass__sheet")
    ):
        if one.of_pass is None:
            one.delete()
            continue
        one.layer_id = one.of_pass.sheet.layer_id
        one.attempt, one.number = one.of_pass.sheet.attempt, one.of_pass.number
        one.save(update_fields=["layer", "attempt", "number"])


def forget_judgements(judgements):
    seen = defaultdict(int)
    old = []
    newest_first = judgements.order_by("firing", "-made_at", "-pk")
    for pk, firing in newest_first.values_list("pk", "firing").iterator():
        seen[firing] += 1
        if seen[firing] > KEPT_JUDGEMENTS:
            old.append(pk)
    for first in range(0, len(old), 500):
        judgements.filter(pk__in=old[first : first + 500]).delete()


class Migration(migrations.Migration):
    dependencies = [
        ("firing", "0006_kiln_loggers"),
    ]

    operations = [
        migrations.RunPython(clear, migrations.RunPython.noop, elidable=True),
    ]
