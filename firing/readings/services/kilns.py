"""Sets a kiln to what its recorded firings and comparisons say."""

from datetime import date, datetime

from django.db import transaction

from firing.locks import lock_kiln
from firing.models import KilnComparison, KilnEvenness
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


@transaction.atomic
def keep_comparison(
    *,
    kiln: Kiln,
    compared_on: date,
    shown_c: float,
    measured_c: float,
    error_k: float,
    compared_by: str,
    note: str,
    by: Person | None,
    at: datetime,
) -> KilnComparison:
    """Save what a kiln showed and what was measured at that moment.

    This alone changes nothing: the offset is set from the kiln's page.
    """
    made: KilnComparison = KilnComparison.across_studios.create(
        studio=kiln.studio,
        kiln=kiln,
        compared_on=compared_on,
        shown_c=shown_c,
        measured_c=measured_c,
        error_k=error_k,
        compared_by=compared_by,
        note=note,
        made_at=at,
        made_by=by,
    )
    viewer = Viewer.of_studio(kiln.studio)
    history.record(
        studio=kiln.studio,
        by=by,
        at=at,
        what=f"Compared kiln {kiln}: showed {viewer.temperature(shown_c)}, measured "
        f"{viewer.temperature(measured_c)}",
        subject=f"kiln {kiln.pk}",
    )
    return made


@transaction.atomic
def remove_comparison(
    *, comparison: KilnComparison, by: Person | None, at: datetime
) -> None:
    """Remove a comparison; the kiln's settings stay."""
    history.record(
        studio=comparison.studio,
        by=by,
        at=at,
        what=f"Removed a comparison of kiln {comparison.kiln}: {comparison}",
        subject=f"kiln {comparison.kiln_id}",
    )
    comparison.delete()


@transaction.atomic
def keep_evenness(
    *,
    kiln: Kiln,
    measured_on: date,
    middle_c: float,
    edge_c: float,
    reach_mm: float,
    error_k: float,
    falls_c_per_h: float,
    note: str,
    by: Person | None,
    at: datetime,
) -> KilnEvenness:
    """Save what was measured in the middle of a shelf and towards its edge.

    Designs and verdicts in this kiln count it from now on.
    """
    made: KilnEvenness = KilnEvenness.across_studios.create(
        studio=kiln.studio,
        kiln=kiln,
        measured_on=measured_on,
        middle_c=middle_c,
        edge_c=edge_c,
        reach_mm=reach_mm,
        error_k=error_k,
        falls_c_per_h=falls_c_per_h,
        note=note,
        made_at=at,
        made_by=by,
    )
    viewer = Viewer.of_studio(kiln.studio)
    history.record(
        studio=kiln.studio,
        by=by,
        at=at,
        what=f"Measured how even kiln {kiln} is: {viewer.temperature(middle_c)} in the "
        f"middle, {viewer.temperature(edge_c)} {viewer.length(reach_mm)} from it",
        subject=f"kiln {kiln.pk}",
    )
    jobs.enqueue(studio=kiln.studio, name=JUDGE_ALL_JOB)
    return made


@transaction.atomic
def remove_evenness(*, measured: KilnEvenness, by: Person | None, at: datetime) -> None:
    """Remove a measurement of how even a kiln is."""
    history.record(
        studio=measured.studio,
        by=by,
        at=at,
        what=f"Removed a measurement of how even kiln {measured.kiln} is: {measured}",
        subject=f"kiln {measured.kiln_id}",
    )
    measured.delete()
    jobs.enqueue(studio=measured.studio, name=JUDGE_ALL_JOB)
