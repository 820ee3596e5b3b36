"""Registration of curves: known changes of invented half-cell functions come back.

The functions are invented: smooth, with steps like those of layered oxides, of graphite and of
two-phase positives. What is checked is the truth that made the curves.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trivet.science.electrodes.registration import (
    FEWEST_ROWS,
    PARAMETERS,
    Curve,
    CycleCurves,
    Registration,
    RegistrationLimits,
    constant_current_curve,
    register,
)
from trivet.studies.registration import (
    CHARGE_ERROR,
    POSITIVES,
    CAPACITY_mAh,
    Faults,
    Half,
    NOISE_mV,
    drawn,
    flat,
    sloping,
    stepped,
)
from trivet.studies.registration import cycle as study_cycle


def level(share: np.ndarray) -> np.ndarray:
    """An electrode at one potential, as lithium is."""
    return np.zeros_like(share)


def cycle(
    positive: Half,
    negative: Half,
    rng: np.random.Generator,
    *,
    truth: dict[str, float] | None = None,
    window: tuple[float, float] = (0.0, 1.0),
    noise_mV: float = NOISE_mV,
    rows: int = 500,
) -> CycleCurves:
    """The four curves of one cycle with 20 mV of polarisation, changed by `truth`."""
    change = {name: 1.0 if name.endswith("active") else 0.0 for name in PARAMETERS}
    change |= truth or {}
    charge = np.linspace(*window, rows) * CAPACITY_mAh
    curves = []
    for side, half, raised in (("positive", positive, 1.0), ("negative", negative, -1.0)):
        for direction, sign in (("charge", raised), ("discharge", -raised)):
            shift = change[f"{side}_shift_{direction}_mAh"]
            share = (charge - shift) / change[f"{side}_active"] / CAPACITY_mAh
            added = sign * (20.0 + change[f"{side}_polarisation_mV"]) + change["offset_mV"]
            added = added + rng.normal(0.0, noise_mV, rows) if noise_mV else added
            curves.append(Curve(charge, half(share) + added / 1000.0))
    return CycleCurves(*curves)


def scores(found: Registration, truth: dict[str, float]) -> dict[str, float]:
    """Deviation of each estimable parameter by its own standard error."""
    return {
        name: (found.values[name] - truth[name]) / found.errors[name]
        for name in PARAMETERS
        if np.isfinite(found.values[name])
    }


@pytest.mark.parametrize(
    ("positive", "sometimes"),
    [
        (sloping, ()),
        (flat, ("positive_active", "positive_shift_charge_mAh", "positive_shift_discharge_mAh")),
    ],
)
def test_known_changes_come_back_within_honest_errors(
    positive: Half, sometimes: tuple[str, ...]
) -> None:
    """About 95 % of true values lie within two standard errors, of each parameter."""
    found: dict[str, list[float]] = {name: [] for name in PARAMETERS}
    for seed in range(40):
        rng = np.random.default_rng(seed)
        truth = drawn(rng)
        earlier = cycle(positive, stepped, rng)
        later = cycle(positive, stepped, rng, truth=truth, window=(0.0, 0.9))
        for name, score in scores(register(earlier, later), truth).items():
            found[name].append(score)
    for name in PARAMETERS:
        sizes = np.abs(found[name])
        assert len(sizes) == 40 or name in sometimes, name
        # Of 40 with a coverage of 0.95, 32 or fewer inside come once in 3,000 (binomial).
        assert len(sizes) < 10 or np.mean(sizes < 2.0) > 0.8, (name, sizes)
        assert not sizes.size or sizes.max() < 6.0, (name, sizes.max())


def test_misfit_widens_the_errors() -> None:
    """Where curves changed in a way that the model lacks, errors grow and still cover."""
    offsets, errors = [], []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        truth = drawn(rng)
        earlier = cycle(sloping, stepped, rng)
        later = cycle(sloping, stepped, rng, truth=truth, window=(0.0, 0.9))
        bent = []
        for curve in later.all:
            waves = rng.normal(0.0, 10.0, (20, 1))
            phase = rng.uniform(0.0, 2.0 * np.pi, (20, 1))
            wave = np.sin(waves * curve.charge_mAh / CAPACITY_mAh + phase).sum(axis=0)
            bent.append(Curve(curve.charge_mAh, curve.potential_V + 3e-4 * wave))
        found = register(earlier, CycleCurves(*bent))
        offsets.append(found.values["offset_mV"] - truth["offset_mV"])
        errors.append(found.errors["offset_mV"])
    # The waves have a spread of 0.95 mV; as white noise they would give errors of 0.05 mV.
    assert np.median(errors) > 0.1
    assert np.mean(np.abs(offsets) < 2.0 * np.array(errors)) > 0.8


@pytest.mark.parametrize("positive", POSITIVES.values(), ids=POSITIVES)
def test_the_same_cycle_again_gives_nothing(positive: Half) -> None:
    """A cycle registered on itself has not changed at all: what is told is 1 and 0 to 0.0002."""
    once = cycle(positive, stepped, np.random.default_rng(1))
    found = register(once, once)
    for name in PARAMETERS:
        if np.isfinite(found.values[name]):
            expected = 1.0 if name.endswith("active") else 0.0
            assert found.values[name] == pytest.approx(expected, abs=2e-4), name
    assert np.isfinite(found.values["negative_active"])
    assert np.isfinite(found.values["negative_shift_charge_mAh"])


@settings(max_examples=20, deadline=None)
@given(st.floats(-300.0, 300.0), st.integers(0, 10_000), st.sampled_from(sorted(POSITIVES)))
def test_a_moved_reference_changes_nothing_but_the_offset(
    moved_mV: float, seed: int, name: str
) -> None:
    """Adding one potential to all curves adds it to the offset and leaves the electrodes alone."""
    rng = np.random.default_rng(seed)
    truth = drawn(rng)
    earlier = cycle(POSITIVES[name], stepped, rng)
    later = cycle(POSITIVES[name], stepped, rng, truth=truth, window=(0.0, 0.9))
    shifted = CycleCurves(
        *(Curve(one.charge_mAh, one.potential_V + moved_mV / 1000.0) for one in later.all)
    )
    before, after = register(earlier, later), register(earlier, shifted)
    assert after.place[0] - before.place[0] == pytest.approx(moved_mV, abs=0.02)
    for parameter in PARAMETERS[1:]:
        if np.isfinite(before.values[parameter]) and np.isfinite(after.values[parameter]):
            off = after.values[parameter] - before.values[parameter]
            assert abs(off) < 0.5 * before.errors[parameter], parameter


def swapped(curves: CycleCurves) -> CycleCurves:
    """The cell with its electrodes taken for each other: potentials turned round."""
    positive_charge, positive_discharge, negative_charge, negative_discharge = (
        Curve(one.charge_mAh, -one.potential_V) for one in curves.all
    )
    return CycleCurves(negative_charge, negative_discharge, positive_charge, positive_discharge)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(sorted(POSITIVES)))
def test_electrodes_exchanged_exchange_the_results(seed: int, name: str) -> None:
    """With electrodes for each other and potentials turned round, results change names."""
    rng = np.random.default_rng(seed)
    truth = drawn(rng)
    earlier = cycle(POSITIVES[name], stepped, rng)
    later = cycle(POSITIVES[name], stepped, rng, truth=truth, window=(0.0, 0.9))
    found, other = register(earlier, later), register(swapped(earlier), swapped(later))
    for parameter in PARAMETERS[1:]:
        side, rest = parameter.split("_", 1)
        name_there = f"{'negative' if side == 'positive' else 'positive'}_{rest}"
        one, two = found.values[parameter], other.values[name_there]
        if np.isfinite(one) and np.isfinite(two):
            assert abs(one - two) < 0.5 * found.errors[parameter], parameter
    assert other.place[0] == pytest.approx(-found.place[0], abs=0.02)


def test_roles_swapped_turn_the_changes_round() -> None:
    """The earlier on the later gives the inverse: -d, 1 / m, -s / m."""
    rng = np.random.default_rng(4)
    truth = drawn(rng)
    earlier = cycle(sloping, stepped, rng)
    later = cycle(sloping, stepped, rng, truth=truth)
    back = register(later, earlier)
    for side in ("positive", "negative"):
        active = truth[f"{side}_active"]
        assert back.values[f"{side}_active"] == pytest.approx(1.0 / active, abs=1e-3)
        for direction in ("charge", "discharge"):
            name = f"{side}_shift_{direction}_mAh"
            assert back.values[name] == pytest.approx(-truth[name] / active, abs=2e-3), name
    assert back.values["offset_mV"] == pytest.approx(-truth["offset_mV"], abs=0.1)


def phosphate(share: np.ndarray) -> np.ndarray:
    """A flat positive whose two steep ends lie within the window."""
    return 3.43 + 0.22 * np.exp(-share / 0.008) - 0.6 * np.exp((share - 1.0) / 0.012)


def knee(share: np.ndarray) -> np.ndarray:
    """A flat positive with one knee in its middle."""
    return np.asarray(flat(share) - 0.02 * np.tanh((share - 0.55) / 0.02))


def titanate(share: np.ndarray) -> np.ndarray:
    """A flat negative with two steep ends."""
    return 1.55 + 0.5 * np.exp((share - 1.0) / 0.015) - 0.3 * np.exp(-share / 0.01)


HARD = {
    "phosphate": (phosphate, stepped),
    "knee": (knee, stepped),
    "titanate": (sloping, titanate),
    "both flat": (flat, titanate),
}


@pytest.mark.parametrize("kind", HARD)
@pytest.mark.parametrize(
    ("least", "window"), [(0.92, (0.0, 0.9)), (0.985, (0.0, 0.98)), (0.92, (0.06, 0.8))]
)
def test_what_is_stated_of_flat_curves_is_right(
    kind: str, least: float, window: tuple[float, float]
) -> None:
    """Without noise a share is right to 0.002, a shift to 0.2 % of the capacity, or not estimable.

    With little change and with much, with windows cut short at either end. The limits are those
    that were asked for.
    """
    positive, negative = HARD[kind]
    for seed in range(20):
        rng = np.random.default_rng(seed)
        truth = drawn(rng)
        if least > 0.95:
            small = {name: 0.1 * value for name, value in truth.items() if "shift" in name}
            truth |= small
            truth |= {
                f"{side}_active": rng.uniform(least, 1.0) for side in ("positive", "negative")
            }
        earlier = cycle(positive, negative, rng, noise_mV=0.0)
        later = cycle(positive, negative, rng, truth=truth, window=window, noise_mV=0.0)
        found = register(earlier, later)
        for name in PARAMETERS:
            if name.endswith("active") and np.isfinite(found.values[name]):
                assert abs(found.values[name] - truth[name]) < 0.002, (seed, name)
            if "shift" in name and np.isfinite(found.values[name]):
                assert abs(found.values[name] - truth[name]) < 0.002 * CAPACITY_mAh, (seed, name)


@pytest.mark.parametrize("kind", ["phosphate", "titanate"])
def test_steep_ends_and_a_charge_that_is_off_have_honest_errors(kind: str) -> None:
    """Errors of the charge move steep ends by many mV, and intervals still hold the truth.

    Of about 40 draws and four to six numbers at least 90 % (three standard deviations of chance
    below 95 %, were they independent).
    """
    positive, negative = HARD[kind]
    faults = Faults(NOISE_mV, CHARGE_ERROR)
    inside: list[bool] = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        truth = drawn(rng)
        earlier = study_cycle(positive, negative, rng, faults=faults)
        later = study_cycle(positive, negative, rng, truth=truth, window=(0.0, 0.9), faults=faults)
        found = scores(register(earlier, later), truth)
        inside += [
            abs(score) <= 1.96
            for name, score in found.items()
            if "active" in name or "shift" in name
        ]
    assert len(inside) > 150
    assert np.mean(inside) > 0.9


def test_a_feature_that_only_the_earlier_curve_has_tells_no_place() -> None:
    """A later curve that ends before the steep end says of the shift only that it is not there."""
    rng = np.random.default_rng(10)
    earlier = cycle(flat, stepped, rng)
    later = cycle(flat, stepped, rng, truth={"positive_shift_charge_mAh": -0.1}, window=(0.0, 0.8))
    found = register(earlier, later)
    assert np.isnan(found.values["positive_shift_charge_mAh"])
    assert np.isnan(found.values["positive_active"])
    assert np.isfinite(found.values["negative_active"])


def test_a_level_electrode_tells_the_reference_and_nothing_of_itself() -> None:
    """Lithium has no features: its share and shifts are not estimable, the offset is."""
    rng = np.random.default_rng(5)
    earlier = cycle(flat, level, rng)
    later = cycle(flat, level, rng, truth={"offset_mV": 6.0}, window=(0.05, 0.95))
    found = register(earlier, later)
    assert found.values["offset_mV"] == pytest.approx(6.0, abs=0.2)
    for name in ("negative_active", "negative_shift_charge_mAh", "positive_active"):
        assert np.isnan(found.values[name]), name


def test_another_material_is_not_believed() -> None:
    """Curves that are no changed form of the earlier ones give nothing, not a small error."""
    rng = np.random.default_rng(6)
    found = register(cycle(sloping, stepped, rng), cycle(stepped, sloping, rng))
    assert all(np.isnan(value) for value in found.values.values())


def test_a_parameter_at_its_bound_is_not_estimable() -> None:
    """An electrode that lost more than the bounds allow is not given a share with an error."""
    rng = np.random.default_rng(7)
    later = cycle(sloping, stepped, rng, truth={"negative_active": 0.9}, window=(0.0, 0.85))
    limits = RegistrationLimits(active_from=0.95)
    found = register(cycle(sloping, stepped, rng), later, limits)
    assert np.isnan(found.values["negative_active"])


def test_combination_knows_the_covariance() -> None:
    """The error of a difference is that of the covariance, and NaN where a part is."""
    rng = np.random.default_rng(8)
    found = register(cycle(sloping, stepped, rng), cycle(sloping, stepped, rng))
    names = ("positive_shift_discharge_mAh", "negative_shift_discharge_mAh")
    value, error = found.combined({names[0]: 1.0, names[1]: -1.0})
    one, two = (PARAMETERS.index(name) for name in names)
    spread = found.covariance
    expected = spread[one, one] + spread[two, two] - 2.0 * spread[one, two]
    assert value == pytest.approx(found.values[names[0]] - found.values[names[1]])
    assert error == pytest.approx(expected**0.5)
    level_one = register(cycle(flat, level, rng), cycle(flat, level, rng))
    assert np.isnan(level_one.combined({"negative_active": 1.0})[0])


def test_rows_at_constant_voltage_are_left_out() -> None:
    """A tail of falling current does not belong into a curve."""
    charge = np.linspace(0.0, 3.0, 100)
    current = np.where(charge < 2.5, 1.0, np.exp(-(charge - 2.5) * 4.0))
    curve = constant_current_curve(charge, 3.0 + charge / 10.0, current)
    assert curve is not None
    assert curve.charge_mAh.max() == pytest.approx(2.5, abs=0.05)
    assert constant_current_curve(charge[:10], charge[:10], current[:10]) is None


def test_too_few_rows_are_refused() -> None:
    """A curve of a few rows says how many it would need."""
    rng = np.random.default_rng(9)
    with pytest.raises(ValueError, match="needs 20 rows"):
        register(cycle(sloping, stepped, rng), cycle(sloping, stepped, rng, rows=8))


def test_a_curve_on_which_no_charge_passed_is_none() -> None:
    """Rows at one current while the clock stands still are no curve to register."""
    rows = FEWEST_ROWS + 5
    level, falling = np.full(rows, 0.2), np.linspace(3.6, 3.2, rows)
    assert constant_current_curve(np.zeros(rows), falling, level) is None
    assert constant_current_curve(np.linspace(0.0, 1.0, rows), falling, level) is not None
