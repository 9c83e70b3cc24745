"""Sets a kiln to what its recorded firings and comparisons say."""

from datetime import datetime

from django.db import transaction

from firing.locks import lock_kiln
from firing.readings.selectors.kiln_record import (
    PER_CENT,
    NewValues,
    is_as_measured,
    kiln_record,
    new_values,
    offset_record,
)
from firing.schedules.selectors.limits import JUDGE_ALL_JOB
from studio import jobs
from studio.errors import Refused
from studio.models import Kiln, Person
from studio.services import history
from studio.viewer import Viewer, count_words


@transaction.atomic
def use_measured_values(*, kiln: Kiln, by: Person | None, at: datetime) -> Kiln:
    """Set a kiln's cooling time, holding power and offset to what was measured.

    Raises
    ------
    Refused
        When nothing was measured, when the kiln is set so already, or when full power
        no longer holds its highest temperature.
    """
    lock_kiln(kiln)
    current: Kiln = Kiln.across_studios.select_related("studio").get(pk=kiln.pk)
    record, offset = kiln_record(current), offset_record(current)
    if record.fit is None and offset.found is None:
        raise Refused(offset.problem or record.problem)
    values = new_values(record.fit, offset)
    if is_as_measured(current, values):
        raise Refused(f"{current} is set to the measured values already.")
    if values.holding_fraction is not None and values.holding_fraction > 1:
        raise Refused(
            f"By these firings full power no longer holds the highest temperature of "
            f"{current}. Have its elements looked at, or give it a lower highest "
            "temperature."
        )
    what = _what(current, values, record.firing_count, len(offset.comparisons))
    if values.cooling_time_constant_s is not None:
        current.cooling_time_constant_s = values.cooling_time_constant_s
    if values.holding_fraction is not None:
        current.holding_fraction = values.holding_fraction
    if values.offset_k is not None and values.offset_uncertainty_k is not None:
        current.offset_k = values.offset_k
        current.offset_uncertainty_k = values.offset_uncertainty_k
        current.offset_found_on = offset.comparisons[0].compared_on
        current.offset_how = count_words(len(offset.comparisons), "comparison")
    current.save(
        update_fields=[
            "cooling_time_constant_s",
            "holding_fraction",
            "offset_k",
            "offset_uncertainty_k",
            "offset_found_on",
            "offset_how",
        ]
    )
    history.record(
        studio=current.studio, by=by, at=at, what=what, subject=f"kiln {current.pk}"
    )
    jobs.enqueue(studio=current.studio, name=JUDGE_ALL_JOB)
    return current


def _what(kiln: Kiln, values: NewValues, firings: int, comparisons: int) -> str:
    viewer = Viewer.of_studio(kiln.studio)
    changes, rests_on = [], []
    if values.cooling_time_constant_s is not None:
        rests_on.append(count_words(firings, "firing"))
        changes.append(
            f"cooling time from {viewer.duration(kiln.cooling_time_constant_s)} to "
            f"{viewer.duration(values.cooling_time_constant_s)}"
        )
    if values.holding_fraction is not None:
        changes.append(
            f"holding power from {kiln.holding_fraction * PER_CENT:.1f} % to "
            f"{values.holding_fraction * PER_CENT:.1f} %"
        )
    if values.offset_k is not None and values.offset_uncertainty_k is not None:
        rests_on.append(count_words(comparisons, "comparison"))
        show = viewer.temperature_difference
        changes.append(
            f"hotter than it shows from {show(kiln.offset_k)} to "
            f"{show(values.offset_k)} ± {show(values.offset_uncertainty_k)}"
        )
    return (
        f"Changed kiln {kiln} as measured from {' and '.join(rests_on)}: "
        f"{', '.join(changes)}"
    )
