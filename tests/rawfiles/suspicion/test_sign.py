"""The sign of the current against the voltage."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.rawfiles.suspicion.sign import sign_evidence


def charge_discharge(sign: float = 1.0) -> dict[str, np.ndarray]:
    """A charge at 1 mA with a constant-voltage tail, a rest and a discharge; one row a minute."""
    up, down = np.linspace(3.0, 3.6, 60), np.linspace(3.5, 2.8, 60)
    tail = np.exp(-np.arange(1, 60) / 15)
    current = np.concatenate([np.full(60, 1.0), tail, np.zeros(20), np.full(60, -1.0)])
    voltage = np.concatenate([up, np.full(59, 3.6), np.full(20, 3.55), down])
    time_s = np.arange(len(current)) * 60.0
    return {"time_s": time_s, "current_mA": sign * current, "voltage_V": voltage}


def judged(rows: dict[str, np.ndarray]) -> tuple[bool, bool]:
    """Whether there is evidence, and whether it contradicts."""
    evidence = sign_evidence(
        rows["time_s"], current_mA=rows["current_mA"], voltage_V=rows["voltage_V"]
    )
    return evidence.found, evidence.contradicts


def test_charge_raises_the_voltage() -> None:
    """The right sign is confirmed and the wrong one contradicted (definition of charge)."""
    assert judged(charge_discharge()) == (True, False)
    assert judged(charge_discharge(sign=-1.0)) == (True, True)


def test_evidence_is_the_charge_of_constant_stretches() -> None:
    """Two stretches of 59 minutes at 1 mA are 1.9667 mAh; the tail proves nothing."""
    rows = charge_discharge()
    evidence = sign_evidence(
        rows["time_s"], current_mA=rows["current_mA"], voltage_V=rows["voltage_V"]
    )
    assert evidence.agreeing_mAh == pytest.approx(2 * 59 / 60)
    assert evidence.contradicting_mAh == 0


@pytest.mark.parametrize("current", [0.0, 0.0005])
def test_rest_proves_nothing(current: float) -> None:
    """A relaxing voltage at rest, with or without the offset of a channel, is no evidence."""
    time_s = np.arange(600) * 60.0
    voltage = 3.4 + 0.1 * np.exp(-time_s / 3600)
    assert judged(
        {"time_s": time_s, "current_mA": np.full(600, current), "voltage_V": voltage}
    ) == (False, False)


def test_short_or_flat_stretches_prove_nothing() -> None:
    """Fewer than five rows, or a voltage within noise, is no evidence."""
    short = {"time_s": np.arange(4.0), "current_mA": np.ones(4), "voltage_V": np.arange(4.0)}
    flat = {"time_s": np.arange(50.0), "current_mA": np.ones(50), "voltage_V": np.full(50, 3.4)}
    assert judged(short) == judged(flat) == (False, False)


def test_missing_values_are_left_out() -> None:
    """Missing currents or voltages neither count nor spoil the rest."""
    rows = charge_discharge()
    rows["voltage_V"][5] = rows["current_mA"][150] = np.nan
    assert judged(rows) == (True, False)
