"""What moved during a sweep, and the amplitude: each check on both sides of its limits.

Limits: checks Z9 and Z10 of the check values on impedance, section B6; section A1 for drift.
"""

from __future__ import annotations

import numpy as np
import pytest

from trivet.schema.settings.science import Trust
from trivet.science.circuit import closed_forms as el
from trivet.science.impedance.spectrum import Trace
from trivet.science.impedance.sweep_drift import (
    amplitude_mV,
    drift_checks,
    repeat_drift_percent,
    sweep_duration_s,
)
from trivet.stages.impedance.pair import limits_of

LIMITS = limits_of(Trust())
FREQUENCY = np.geomspace(1e5, 1e-2, 57)


def with_repeat(growth):
    """A sweep that comes back to its middle frequency after its arc grew by a share."""
    middle = 100.0
    frequency = np.append(np.append(FREQUENCY[FREQUENCY > 200], middle), FREQUENCY[FREQUENCY < 50])
    frequency = np.append(frequency, middle)
    along = np.linspace(0.0, 1.0, len(frequency))
    arc = el.zarc(frequency, resistance_ohm=30, time_constant_s=1e-3, exponent=0.85)
    return frequency, 2.0 + arc * (1 + growth * along)


def outcome(name, **given):
    """Outcome of one of the checks."""
    wanted = {"repeat_percent": None, "change_mV": None, "peak_mV": None} | given
    return {c.name: c.outcome for c in drift_checks(limits=LIMITS, **wanted)}[name]


@pytest.mark.parametrize(
    ("growth", "flagged"), [(0.2, True), (-0.2, True), (0.02, False), (0.0, False)]
)
def test_repeated_frequency_shows_the_drift(growth, flagged):
    """An arc that grows by 20 % during the sweep is flagged at its end, one by 2 % is not."""
    frequency, impedance = with_repeat(growth)
    found = repeat_drift_percent(frequency, impedance_ohm=impedance)
    assert (outcome("repeated frequency", repeat_percent=found) != "trusted") == flagged


def test_repeat_is_the_change_of_that_frequency():
    """The value is |Z_last - Z_first|/|Z_first| by hand; readings in a row are no repeat."""
    found = repeat_drift_percent(
        np.array([100.0, 10.0, 10.0, 100.0]), impedance_ohm=np.array([10, 20, 21, 11.5 + 0j])
    )
    assert found == pytest.approx(15.0)
    once = repeat_drift_percent(FREQUENCY, impedance_ohm=FREQUENCY + 0j)
    assert once is None
    assert outcome("repeated frequency", repeat_percent=once) == "not testable"


@pytest.mark.parametrize(
    ("change_mV", "wanted"),
    [(1.9, "trusted"), (-2.1, "suspect"), (6.0, "rejected"), (None, "not testable")],
)  # fmt: skip
def test_potential_before_and_after(change_mV, wanted):
    """Up to 2 mV passes, up to 5 mV is suspect, more is rejected, either way (Z9)."""
    assert outcome("potential before and after", change_mV=change_mV) == wanted


@pytest.mark.parametrize(
    ("peak_mV", "wanted"),
    [(9.0, "trusted"), (12.0, "suspect"), (25.0, "rejected"), (None, "not testable")],
)  # fmt: skip
def test_amplitude(peak_mV, wanted):
    """Up to 10 mV passes, up to 20 mV is suspect, more leaves the linear range (Z10)."""
    assert outcome("amplitude", peak_mV=peak_mV) == wanted


def test_amplitude_by_ohms_law():
    """A current times the largest modulus; a voltage across the cell in proportion (Ohm)."""
    pair = Trace(np.array([10.0, 1.0]), np.array([10.0, 40.0 + 0j]))
    cell = Trace(np.array([10.0, 1.0]), np.array([20.0, 100.0 + 0j]))
    by_current = amplitude_mV(pair, current_mA=0.5, voltage_mV=None, cell=cell)
    by_voltage = amplitude_mV(pair, current_mA=None, voltage_mV=10.0, cell=cell)
    assert by_current == pytest.approx(20.0)
    assert by_voltage == pytest.approx(5.0)
    assert amplitude_mV(pair, current_mA=None, voltage_mV=None, cell=cell) is None
    assert amplitude_mV(pair, current_mA=None, voltage_mV=5.0, cell=None) is None


def test_a_sweep_lasts_a_period_at_each_frequency_at_least():
    """1, 0.1 and 0.01 Hz take 111 s at least, by hand."""
    assert sweep_duration_s(np.array([1.0, 0.1, 0.01])) == pytest.approx(111.0)
