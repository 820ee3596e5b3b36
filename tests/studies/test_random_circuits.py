"""Random circuits against the Kramers-Kronig test: sound ones pass, a drift is seen."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.studies.random_circuits import FREQUENCY_HZ, counted, random_circuit, table

NUMBER = 150


@pytest.mark.parametrize("noise", [0.0, 0.001, 0.002])
def test_sound_spectra_are_not_condemned(noise: float) -> None:
    """At most 1 % are rejected and at most 5 % suspect, and hardly a point is set aside."""
    counts = counted(number=NUMBER, noise=noise, drift=0.0)
    assert counts["rejected"] <= 0.01 * NUMBER
    assert counts["suspect"] <= 0.05 * NUMBER
    assert counts["outlier"] <= 0.02 * NUMBER


def test_noise_of_half_a_percent_is_no_drift() -> None:
    """At 0.5 % noise what is suspect is so by its size, and never by an order of residuals."""
    counts = counted(number=NUMBER, noise=0.005, drift=0.0)
    assert counts["Kramers-Kronig pattern"] <= 0.01 * NUMBER
    assert counts["rejected"] == 0


def test_a_drift_of_a_fifth_is_seen() -> None:
    """Most spectra that drift by 20 % in a sweep show an order, at 0.1 % noise."""
    counts = counted(number=NUMBER, noise=0.001, drift=0.2)
    assert counts["trusted"] < 0.2 * NUMBER


def test_circuits_are_physical_and_repeatable() -> None:
    """Real parts are positive, and one seed gives one circuit."""
    one = random_circuit(np.random.default_rng(3))
    assert np.all(one.real > 0)
    assert np.array_equal(one, random_circuit(np.random.default_rng(3)))
    assert one.shape == FREQUENCY_HZ.shape


def test_the_table_has_a_row_for_each_noise_and_drift() -> None:
    """Four drifts and four noises, under a heading of two lines."""
    assert len([*table(number=2)]) == 18
