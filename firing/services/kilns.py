"""Writes into a kiln what its recorded firings say of it."""

from datetime import datetime

from django.db import transaction

from firing.selectors.kiln_record import (
    PER_CENT,
    NewValues,
    is_as_measured,
    kiln_record,
    new_values,
)
from firing.services.locks import lock_kiln
from studio.errors import Refused
from studio.models import Kiln, Person
from studio.reader import Reader
from studio.services import history


@transaction.atomic
def use_measured_values(*, kiln: Kiln, by: Person | None, at: datetime) -> Kiln:
    """Set a kiln's cooling time, and its holding power where known, as measured.

    Raises
    ------
    Refused
        When nothing was measured, when the kiln is set so already, or when full power
        no longer holds its highest temperature.
    """
    lock_kiln(kiln)
    current: Kiln = Kiln.across_studios.select_related("studio").get(pk=kiln.pk)
    record = kiln_record(current)
    if record.fit is None:
        raise Refused(record.problem)
    values = new_values(record.fit)
    if is_as_measured(current, values):
        raise Refused(f"{current} is set to the measured values already.")
    if values.holding_fraction is not None and values.holding_fraction > 1:
        raise Refused(
            f"By these firings full power no longer holds the highest temperature of "
            f"{current}. Have its elements looked at, or give it a lower highest "
            "temperature."
        )
    what = _what(current, values, record.firing_count)
    current.cooling_time_constant_s = values.cooling_time_constant_s
    if values.holding_fraction is not None:
        current.holding_fraction = values.holding_fraction
    current.save(update_fields=["cooling_time_constant_s", "holding_fraction"])
    history.record(
        studio=current.studio, by=by, at=at, what=what, subject=f"kiln {current.pk}"
    )
    return current


def _what(kiln: Kiln, values: NewValues, firing_count: int) -> str:
    show = Reader.of_studio(kiln.studio).duration
    changes = [
        f"cooling time from {show(kiln.cooling_time_constant_s)} to "
        f"{show(values.cooling_time_constant_s)}"
    ]
    if values.holding_fraction is not None:
        changes.append(
            f"holding power from {kiln.holding_fraction * PER_CENT:.1f} % to "
            f"{values.holding_fraction * PER_CENT:.1f} %"
        )
    firings = "1 firing" if firing_count == 1 else f"{firing_count} firings"
    return f"Changed kiln {kiln} as measured from {firings}: {', '.join(changes)}"
