"""An opened kiln is told from a broken thermocouple, or said to be in doubt."""

import numpy as np
import pytest

from firing.physics.kiln.recorded import clean_readings

HOUR_S, MINUTE_S = 3600.0, 60.0
AT_S = 20 * HOUR_S


def fired(every_s):
    """Up to 816 °C, down to a soak, slowly down from there."""
    time_s = np.arange(0.0, 72 * HOUR_S, every_s)
    return time_s, np.interp(
        time_s / HOUR_S, [0, 12, 13, 17, 27, 72], [20, 816, 816, 482, 482, 50]
    )


def opened(time_s, kiln_c, minutes, falls_k):
    """Air that falls and comes back with a time constant of two minutes."""
    since_s, lasts_s = time_s - AT_S, minutes * MINUTE_S
    open_s, closed_s = np.clip(since_s, 0, lasts_s), np.clip(since_s - lasts_s, 0, None)
    dip_k = falls_k * (1 - np.exp(-open_s / 120)) * np.exp(-closed_s / 120)
    return kiln_c - dip_k


def lowest_c(curve):
    near_s = np.arange(AT_S - HOUR_S, AT_S + HOUR_S, 10.0)
    return np.interp(near_s, curve.time_s, curve.temperature_c).min()


@pytest.mark.parametrize("minutes", [5, 10, 20])
@pytest.mark.parametrize("falls_k", [50, 150, 300])
@pytest.mark.parametrize("every_s", [20.0, 60.0])
def test_what_is_seen_to_fall_and_come_back_is_true(minutes, falls_k, every_s):
    time_s, kiln_c = fired(every_s)
    read_c = opened(time_s, kiln_c, minutes, falls_k)
    record = clean_readings(time_s, read_c)
    assert (record.broken, record.doubtful) == ((), ())
    fell_k = 482 - read_c[np.abs(time_s - AT_S) < HOUR_S].min()
    # Averaged over two minutes, which no slab feels.
    assert 482 - lowest_c(record.curve) >= 0.75 * fell_k


@pytest.mark.parametrize(("every_s", "readings"), [(150.0, 2), (300.0, 1), (300.0, 3)])
def test_a_fall_and_a_rise_without_a_reading_are_in_doubt(every_s, readings):
    time_s, kiln_c = fired(every_s)
    is_low = (time_s > AT_S) & (time_s <= AT_S + readings * every_s)
    low_c = 222.0 + np.arange(is_low.sum())
    kiln_c[is_low] = low_c
    record = clean_readings(time_s, kiln_c)
    (span,) = record.doubtful
    assert (span.start_s, span.end_s) == (AT_S, AT_S + (readings + 1) * every_s)
    assert lowest_c(record.curve) > 470
    assert lowest_c(record.believed) < 230
    assert record.broken == ()


@pytest.mark.parametrize("reads_c", [0.0, 100.0])
def test_no_opened_kiln_falls_so_deep_or_stays_so_still(reads_c):
    time_s, kiln_c = fired(60.0)
    kiln_c[(time_s > AT_S) & (time_s <= AT_S + 900)] = reads_c
    record = clean_readings(time_s, kiln_c)
    assert record.broken_readings == 15
    assert (record.doubtful, record.believed) == ((), None)
