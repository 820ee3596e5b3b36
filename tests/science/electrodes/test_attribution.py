"""Capacity lost is shared out: known changes of invented curves come back, and terms add up.

The half-cell functions are invented; what is checked is the truth that made the curves. Counting
lithium by the shift of one electrode's curve against the other's, and the sense of each shift, are
common practice in electrode diagnostics.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trivet.science.electrodes.attribution import (
    TERMS,
    Attribution,
    Change,
    attribute,
    left_mAh,
    lost_by,
)
from trivet.science.electrodes.registration import (
    Curve,
    CycleCurves,
    RegistrationLimits,
    register,
)

CAPACITY_mAh = 3.0


def oxide(share: np.ndarray) -> np.ndarray:
    """A positive that slopes; `share` is the charge from the top."""
    return 4.25 - 0.5 * share - 0.12 * np.tanh((share - 0.25) / 0.08)


def phosphate(share: np.ndarray) -> np.ndarray:
    """A positive without slope between two steep ends."""
    return 3.43 + 0.3 * np.exp(-(share + 0.05) / 0.01) - 0.4 * np.exp((share - 1.25) / 0.01)


def graphite(share: np.ndarray) -> np.ndarray:
    """A negative with two steps and a steep end where it is empty."""
    filled = 0.96 - 0.95 * share
    steps = 0.02 * (1 - np.tanh((filled - 0.52) / 0.02))
    return (
        0.08 + 0.8 * np.exp(-filled / 0.01) + steps + 0.045 * (1 - np.tanh((filled - 0.2) / 0.03))
    )


Half = Callable[[np.ndarray], np.ndarray]


def cycle(
    positive: Half,
    change: Change,
    *,
    window: tuple[float, float] = (0.0, 1.0),
    moved_mV: float = 0.0,
    noise_mV: float = 0.0,
    seed: int = 0,
) -> CycleCurves:
    """The four curves after a change, at 10 mV of polarisation a side, reference moved."""
    charge = np.linspace(*window, 600) * CAPACITY_mAh
    rng = np.random.default_rng(seed)
    grown = change.resistance_mV / 2.0
    curves = []
    for half, shift, active, sign in (
        (positive, change.inventory_mAh, change.positive_active, 1.0),
        (graphite, 0.0, change.negative_active, -1.0),
    ):
        for way in (sign, -sign):
            share = (charge - shift) / active / CAPACITY_mAh
            added = way * (10.0 + grown) + moved_mV + noise_mV * rng.normal(size=charge.size)
            curves.append(Curve(charge, half(share) + added / 1000.0))
    return CycleCurves(*curves)


def shared(
    change: Change, *, positive: Half = oxide, held: bool = True, **how: float
) -> Attribution:
    """Attribution of a cell that has changed; its loss is what the changed curves still hold."""
    base = cycle(positive, Change())
    left = left_mAh(base, change, held=held)
    later = cycle(positive, change, window=(0.02, min(left / CAPACITY_mAh, 1.0)), **how)
    return attribute(base, register(base, later), lost_mAh=CAPACITY_mAh - left, held=held)


def test_no_change_gives_nothing() -> None:
    """The same cell again has lost nothing, by any term."""
    found = shared(Change())
    assert found.lost_mAh == pytest.approx(0.0, abs=1e-9)
    for term in TERMS:
        assert found.terms_mAh[term] == pytest.approx(0.0, abs=0.002)


def test_lithium_alone_costs_its_own_charge_where_ends_are_steep() -> None:
    """With a flat positive and a graphite that empties, each lost mAh of lithium is a lost mAh."""
    base = cycle(phosphate, Change())
    assert lost_by(base, Change(inventory_mAh=0.2), held=True) == pytest.approx(0.2, rel=0.05)


@pytest.mark.parametrize("positive", [oxide, phosphate])
def test_known_changes_come_back(positive: Half) -> None:
    """Lithium within 0.2 % of capacity, active shares within 0.002, without noise, where told."""
    rng = np.random.default_rng(7)
    told = 0
    for _ in range(40):
        change = Change(
            inventory_mAh=float(rng.uniform(0.0, 0.3)),
            positive_active=float(rng.uniform(0.93, 1.0)),
            negative_active=float(rng.uniform(0.93, 1.0)),
            resistance_mV=float(rng.uniform(0.0, 8.0)),
        )
        found = shared(change, positive=positive)
        for name, tolerance in (
            ("inventory_mAh", 0.002 * CAPACITY_mAh),
            ("positive_active", 0.002),
            ("negative_active", 0.002),
            ("resistance_mV", 0.5),
        ):
            got = getattr(found.change, name)
            if np.isfinite(got):
                told += 1
                assert abs(got - getattr(change, name)) < max(
                    tolerance, 4.0 * found.change_errors[name]
                ), name
    assert told > 60


def test_errors_are_honest() -> None:
    """At 0.2 mV of noise, 95 % intervals cover 90.4 to 99.5 % of 200 draws, for each number.

    Three standard deviations of chance below 95 % (binomial); a little more is allowed above, since
    errors are widened for misfits.
    """
    rng = np.random.default_rng(11)
    names = ("inventory_mAh", "positive_active", "negative_active", "resistance_mV")
    inside: dict[str, list[bool]] = {name: [] for name in names}
    for seed in range(200):
        change = Change(
            inventory_mAh=float(rng.uniform(0.0, 0.3)),
            positive_active=float(rng.uniform(0.93, 1.0)),
            negative_active=float(rng.uniform(0.93, 1.0)),
            resistance_mV=float(rng.uniform(0.0, 8.0)),
        )
        base = cycle(oxide, Change(), noise_mV=0.2, seed=10_000 + seed)
        later = cycle(oxide, change, window=(0.0, 0.9), noise_mV=0.2, seed=seed)
        # charges are exact here; studies.registration has them with errors
        exact = RegistrationLimits(charge_error=0.0)
        found = attribute(base, register(base, later, exact), lost_mAh=0.0, held=True)
        for name in names:
            off = abs(getattr(found.change, name) - getattr(change, name))
            inside[name].append(off <= 1.96 * found.change_errors[name])
    for name in names:
        assert 0.904 <= np.mean(inside[name]) <= 0.995, name


@settings(max_examples=25, deadline=None)
@given(st.floats(-30.0, 30.0))
def test_a_moved_reference_costs_no_capacity(moved_mV: float) -> None:
    """A common offset of all four curves leaves every term as it was."""
    change = Change(inventory_mAh=0.1, resistance_mV=2.0)
    still, moved = shared(change), shared(change, moved_mV=moved_mV)
    for term in TERMS:
        assert moved.terms_mAh[term] == pytest.approx(still.terms_mAh[term], abs=0.003)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.0, 0.25), st.floats(0.94, 1.0), st.floats(0.94, 1.0), st.floats(0.0, 10.0))
def test_terms_and_remainder_add_up(
    inventory_mAh: float, positive: float, negative: float, resistance_mV: float
) -> None:
    """Whatever could be estimated and what is left over is the loss, exactly."""
    found = shared(Change(inventory_mAh, positive, negative, resistance_mV))
    known = [value for value in found.terms_mAh.values() if np.isfinite(value)]
    assert sum(known) + found.remainder_mAh == pytest.approx(found.lost_mAh, abs=1e-12)


def test_a_flat_positive_is_not_told_from_its_middle() -> None:
    """Curves that end before either steep end of the phosphate say nothing of its active share."""
    base = cycle(phosphate, Change(), window=(0.05, 0.95))
    later = cycle(phosphate, Change(positive_active=0.95), window=(0.06, 0.9))
    found = attribute(base, register(base, later), lost_mAh=0.1, held=True)
    assert "positive" in found.missing
    assert np.isnan(found.terms_mAh["positive"])
    assert found.remainder_mAh == pytest.approx(
        0.1 - sum(v for v in found.terms_mAh.values() if np.isfinite(v))
    )


def test_a_hold_at_the_top_spares_resistance_its_price_there() -> None:
    """Without a hold at constant voltage grown resistance ends the charge earlier too."""
    base = cycle(oxide, Change())
    grown = replace(Change(), resistance_mV=50.0)
    assert lost_by(base, grown, held=False) > lost_by(base, grown, held=True) > 0.0


def test_a_discharge_that_begins_on_a_plateau_costs_resistance_nothing_there() -> None:
    """The charge ends where its own curve is steep; where the discharge begins no limit is met."""
    base = cycle(phosphate, Change())
    end = base.positive_charge
    steep = replace(end, potential_V=end.potential_V + 0.2 * np.exp(-end.charge_mAh / 0.02))
    base = replace(base, positive_charge=steep)
    grown = replace(Change(), resistance_mV=12.0)
    at_the_top = lost_by(base, grown, held=False) - lost_by(base, grown, held=True)
    # 12 of 200 mV along an exponential of 0.02 mAh: 0.0012 mAh; the plateau would cost a third
    assert at_the_top == pytest.approx(-0.02 * np.log(1.0 - 12.0 / 200.0), abs=0.001)


def test_lithium_in_lost_material_widens_the_range() -> None:
    """All of the lost share may have been full: at most its part of the capacity is added."""
    found = shared(Change(inventory_mAh=0.1, negative_active=0.95))
    assert found.inventory_at_most_mAh - found.change.inventory_mAh == pytest.approx(
        0.05 * CAPACITY_mAh, rel=0.1
    )
