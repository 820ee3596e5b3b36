"""How far the joint fit of curves can be believed: known changes of invented half-cells come back.

`python -m trivet.studies.registration` prints a table: how far values are off without noise, and
how many 95 % intervals hold the truth with 0.2 mV of noise and 0.05 % of error of each charge.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.science.electrodes.registration import (
    PARAMETERS,
    Curve,
    CycleCurves,
    register,
)

Floats = NDArray[np.float64]
Half = Callable[[Floats], Floats]
CAPACITY_mAh = 3.0
NOISE_mV = 0.2
CHARGE_ERROR = 5e-4
POLARISATION_mV = 20.0


def sloping(share: Floats) -> Floats:
    """A positive that slopes, with a weak step [V]; `share` is the charge from the top."""
    step = 0.12 * np.tanh((share - 0.22) / 0.08)
    return np.asarray(4.25 - 0.5 * share - step - 0.25 * np.exp((share - 1.05) / 0.03))


def flat(share: Floats) -> Floats:
    """A positive without any slope between two ends [V]."""
    ends = 0.3 * np.exp(-(share + 0.05) / 0.01) - 0.4 * np.exp((share - 1.05) / 0.01)
    return np.asarray(3.43 + ends)


def stepped(share: Floats) -> Floats:
    """A negative with two steps and a steep end, as graphite has [V]."""
    filled = 0.92 - 0.85 * share
    steps = 0.02 * (1 - np.tanh((filled - 0.52) / 0.02))
    steps += 0.045 * (1 - np.tanh((filled - 0.2) / 0.05))
    return np.asarray(0.08 + 0.6 * np.exp(-filled / 0.03) + steps)


def two_steps(share: Floats) -> Floats:
    """A positive with flat parts and two steps between them [V]."""
    steps = 0.05 * np.tanh((share - 0.25) / 0.03) + 0.06 * np.tanh((share - 0.65) / 0.04)
    return np.asarray(4.05 - steps - 0.3 * np.exp((share - 1.04) / 0.015))


POSITIVES: dict[str, Half] = {"sloping": sloping, "flat": flat, "stepped": two_steps}


@dataclass(frozen=True)
class Faults:
    """What measuring adds: noise of each potential [mV], and error of each curve's charge [1]."""

    noise_mV: float = 0.0
    charge_error: float = 0.0


def cycle(
    positive: Half,
    negative: Half,
    rng: np.random.Generator,
    *,
    truth: dict[str, float] | None = None,
    window: tuple[float, float] = (0.0, 1.0),
    faults: Faults = Faults(),
    rows: int = 500,
) -> CycleCurves:
    """The four curves of one cycle with 20 mV of polarisation, changed by `truth`.

    Parameters
    ----------
    positive, negative : callable
        Half-cells: potential [V] by the share of charge from the top.
    rng : numpy.random.Generator
        Of noise and of errors of the charge.
    truth : dict of str to float or None
        Changes by name of `PARAMETERS`; what is not named has not changed.
    window : tuple of float
        First and last charge from the top, of the capacity [1].
    faults : Faults
        What measuring adds.
    rows : int
        Rows of a curve.
    """
    change = {name: 1.0 if name.endswith("active") else 0.0 for name in PARAMETERS}
    change |= truth or {}
    charge = np.linspace(*window, rows) * CAPACITY_mAh
    counted = {way: 1.0 + faults.charge_error * rng.normal() for way in ("charge", "discharge")}
    curves = []
    for side, half, raised in (("positive", positive, 1.0), ("negative", negative, -1.0)):
        for direction, sign in (("charge", raised), ("discharge", -raised)):
            shift = change[f"{side}_shift_{direction}_mAh"]
            share = (charge - shift) / change[f"{side}_active"] / CAPACITY_mAh
            grown = POLARISATION_mV + change[f"{side}_polarisation_mV"]
            noise = rng.normal(0.0, 1.0, rows) * faults.noise_mV
            added = sign * grown + change["offset_mV"] + noise
            curves.append(Curve(charge * counted[direction], half(share) + added / 1000.0))
    return CycleCurves(*curves)


def drawn(rng: np.random.Generator) -> dict[str, float]:
    """A change as ageing makes it, and a reference that moved."""
    positive, negative = rng.uniform(-0.1, 0.1), rng.uniform(-0.3, 0.1)
    return {
        "offset_mV": float(rng.normal(0.0, 15.0)),
        "positive_active": float(rng.uniform(0.92, 1.0)),
        "positive_shift_charge_mAh": positive,
        "positive_shift_discharge_mAh": positive + float(rng.normal(0.0, 0.03)),
        "positive_polarisation_mV": float(rng.uniform(0.0, 8.0)),
        "negative_active": float(rng.uniform(0.92, 1.0)),
        "negative_shift_charge_mAh": negative,
        "negative_shift_discharge_mAh": negative + float(rng.normal(0.0, 0.03)),
        "negative_polarisation_mV": float(rng.uniform(0.0, 8.0)),
    }


@dataclass(frozen=True)
class Outcome:
    """What came back of one parameter over all draws.

    Attributes
    ----------
    estimable : int
        Draws in which it could be estimated.
    inside : int
        Of these, how many 95 % intervals hold the truth.
    worst : float
        Largest deviation, in the parameter's unit; shifts of the capacity [1].
    error : float
        Median standard error, likewise.
    """

    estimable: int
    inside: int
    worst: float
    error: float

    @property
    def coverage(self) -> float:
        """Share of intervals that hold the truth; NaN for none."""
        return self.inside / self.estimable if self.estimable else float("nan")


def outcomes(name: str, *, draws: int, faults: Faults, first_seed: int = 0) -> dict[str, Outcome]:
    """Register random changes and compare with the truth, parameter by parameter.

    Parameters
    ----------
    name : str
        Positive, of `POSITIVES`.
    draws : int
        How many.
    faults : Faults
        What measuring adds.
    first_seed : int
        Seed of the first draw; the others follow.
    """
    off: dict[str, list[tuple[float, float]]] = {parameter: [] for parameter in PARAMETERS}
    for seed in range(first_seed, first_seed + draws):
        rng = np.random.default_rng(seed)
        truth = drawn(rng)
        earlier = cycle(POSITIVES[name], stepped, rng, faults=faults)
        later = cycle(POSITIVES[name], stepped, rng, truth=truth, window=(0.0, 0.9), faults=faults)
        found = register(earlier, later)
        for parameter in PARAMETERS:
            if np.isfinite(found.values[parameter]):
                unit = CAPACITY_mAh if parameter.endswith("mAh") else 1.0
                deviation = (found.values[parameter] - truth[parameter]) / unit
                off[parameter].append((deviation, found.errors[parameter] / unit))
    told = {}
    for parameter, pairs in off.items():
        both = np.array(pairs).reshape(-1, 2)
        size, error = np.abs(both[:, 0]), both[:, 1]
        told[parameter] = Outcome(
            estimable=len(pairs),
            inside=int(np.sum(size <= 1.96 * error)),
            worst=float(size.max()) if pairs else float("nan"),
            error=float(np.median(error)) if pairs else float("nan"),
        )
    return told


def table(draws: int, first_seed: int) -> list[str]:
    """Lines of the table."""
    lines = [
        "| positive | parameter | largest deviation without noise (draws) | estimable | "
        "95 % intervals that hold the truth, % | median standard error |",
        "|---|---|---|---|---|---|",
    ]
    for name in POSITIVES:
        sound = outcomes(name, draws=draws, faults=Faults(), first_seed=first_seed)
        faults = Faults(NOISE_mV, CHARGE_ERROR)
        noisy = outcomes(name, draws=draws, faults=faults, first_seed=first_seed)
        for parameter in PARAMETERS:
            one, other = sound[parameter], noisy[parameter]
            cells = (
                name,
                parameter.removesuffix("_mAh"),
                f"{one.worst:.2g} ({one.estimable})" if one.estimable else "–",
                f"{other.estimable}",
                f"{100.0 * other.coverage:.1f}" if other.estimable else "–",
                f"{other.error:.2g}" if other.estimable else "–",
            )
            lines.append(f"| {' | '.join(cells)} |")
    return lines


def main(argv: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Calibration of the joint fit of curves.")
    parser.add_argument("--draws", type=int, default=500)
    parser.add_argument("--first-seed", type=int, default=30_000)
    given = parser.parse_args(argv)
    sys.stdout.write("\n".join(table(given.draws, given.first_seed)) + "\n")


if __name__ == "__main__":
    main()
