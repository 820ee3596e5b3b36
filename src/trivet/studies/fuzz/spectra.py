"""Spectra that no instrument should give: whatever they hold, the stage `impedance` ends in tables.

Run as `python -m trivet.studies.fuzz.spectra [SPECTRA] [SEED]`. Each is a spectrum of an invented
cell in three pairs; a pair may be missing, and up to two things are done to each: points that are
nothing, far off, noisy, few, doubled, out of order, in another unit, turned round in sign, real or
imaginary alone, at one frequency. Every warning of the numerics counts as an error.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable, Mapping
from functools import cache

import numpy as np
import pyarrow as pa

from trivet.demo.cycler import CheckUp
from trivet.demo.plan import plan_campaign
from trivet.demo.spectra import FREQUENCIES_HZ, measured_spectra_ohm
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.science import Impedance, Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.integrals import Floats
from trivet.stages.impedance.stage import run
from trivet.store.tables import empty, make_table
from trivet.studies.fuzz.ends import asked, counted, one_of, some_of
from trivet.studies.reference_faults import START_S, ledger_of_one_file

SPECTRA = 3_000
_CELLS = 12
_AT_H = (150.0, 400.0)
_LEFT_OUT = 0.15
"""Share of the pairs that were not measured."""
Points = tuple[Floats, Floats, Floats]
"""Frequencies, real and imaginary parts [Hz, ohm, ohm]."""
Damage = Callable[[Points, np.random.Generator], Points]


def make_nothing(points: Points, random: np.random.Generator) -> Points:
    """Give some points the same value: nothing, next to nothing, huge, negative."""
    for values in points[1:]:
        values[some_of(points[0].size, random)] = random.choice([0.0, 1e-12, 1e9, -5.0])
    return points


def keep_few(points: Points, random: np.random.Generator) -> Points:
    """Keep the first points alone."""
    count = int(random.integers(1, 8))
    frequency, real, imaginary = points
    return frequency[:count], real[:count], imaginary[:count]


def change_unit(points: Points, random: np.random.Generator) -> Points:
    """Give impedances or frequencies in another unit, from nano to giga."""
    factor = 10 ** random.uniform(-9, 9)
    frequency, real, imaginary = points
    if random.random() < 0.5:
        return frequency * factor, real, imaginary
    return frequency, real * factor, imaginary * factor


def add_noise(points: Points, random: np.random.Generator) -> Points:
    """Make the parts noisy."""
    spread = 10 ** random.uniform(-6, 4)
    frequency, *parts = points
    real, imaginary = (part + random.normal(0.0, spread, part.size) for part in parts)
    return frequency, real, imaginary


def turn_round(points: Points, random: np.random.Generator) -> Points:
    """Change the sign of one part, or of both."""
    frequency, real, imaginary = points
    first, second = random.choice([-1.0, 1.0], 2)
    return frequency, real * first, imaginary * second


def drop_a_part(points: Points, random: np.random.Generator) -> Points:
    """Leave the real or the imaginary part at nothing."""
    frequency, real, imaginary = points
    kept = random.random() < 0.5
    return frequency, real * kept, imaginary * (not kept)


def hold_the_frequency(points: Points, random: np.random.Generator) -> Points:
    """Measure some points at one frequency."""
    rows = some_of(points[0].size, random)
    points[0][rows] = points[0][rows][0] if points[0][rows].size else 1.0
    return points


def shuffle(points: Points, random: np.random.Generator) -> Points:
    """Give the points in any order."""
    frequency, real, imaginary = (part[random.permutation(points[0].size)] for part in points)
    return frequency, real, imaginary


def double(points: Points, random: np.random.Generator) -> Points:
    """Give some points twice."""
    rows = some_of(points[0].size, random)
    frequency, real, imaginary = (np.concatenate([part, part[rows]]) for part in points)
    return frequency, real, imaginary


def put_far_off(points: Points, random: np.random.Generator) -> Points:
    """Put single points far off."""
    if points[0].size:
        rows = random.integers(0, points[0].size, 3)
        for part in points[1:]:
            part[rows] *= 10 ** random.uniform(-3, 3)
    return points


DAMAGES: tuple[Damage, ...] = (
    make_nothing,
    keep_few,
    change_unit,
    add_noise,
    turn_round,
    drop_a_part,
    hold_the_frequency,
    shuffle,
    double,
    put_far_off,
)


@cache
def _sound() -> tuple[Mapping[str, np.ndarray], ...]:
    """Spectra of invented cells [ohm]."""
    made = []
    for plan in plan_campaign()[:_CELLS]:
        for at_h in _AT_H:
            positive, negative = plan.ageing.resistances(at_h)
            made.append(measured_spectra_ohm(plan, check_up=CheckUp(1, at_h, positive, negative)))
    return tuple(made)


def damaged(number: int, random: np.random.Generator) -> dict[str, Points]:
    """Pairs of a spectrum, each with up to two things done to it.

    Parameters
    ----------
    number : int
        Which spectrum, counted round.
    random : numpy.random.Generator
        Source of all choices.
    """
    pairs: dict[str, Points] = {}
    for pair, impedance in _sound()[number % len(_sound())].items():
        points: Points = (FREQUENCIES_HZ.copy(), impedance.real.copy(), impedance.imag.copy())
        for _ in range(int(random.integers(0, 3))):
            points = one_of(DAMAGES, random)(points, random)
        if random.random() > _LEFT_OUT:
            pairs[pair] = points
    return pairs


def table_of(pairs: Mapping[str, Points]) -> pa.Table:
    """The table `spectrum_points` of one spectrum.

    Parameters
    ----------
    pairs : mapping of str to (ndarray, ndarray, ndarray)
        Frequencies and parts of each pair [Hz, ohm].
    """
    rows = [
        {"cell": "s", "spectrum": 1, "time_s": START_S + 54_000.0, "pair": pair, "frequency_Hz": f,
         "real_ohm": real, "imaginary_ohm": imaginary, "file": "s.csv", "line": line}
        for pair, parts in pairs.items()
        for line, (f, real, imaginary) in enumerate(zip(*parts, strict=True), start=2)
    ]  # fmt: skip
    table = TABLES["spectrum_points"]
    return make_table(table, {name: [row.get(name) for row in rows] for name in table.names})


def survived(number: int, random: np.random.Generator) -> str:
    """Damage a spectrum and test and fit it; how it ended, in words.

    Parameters
    ----------
    number : int
        Which spectrum, counted round.
    random : numpy.random.Generator
        Source of all choices.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        result = run(
            facts=CellFacts("s", "b", clock_start_s=START_S),
            points=table_of(damaged(number, random)),
            cycles=empty(TABLES["cycles"]),
            fitness=empty(TABLES["fitness"]),
            ledger=ledger_of_one_file(),
            series=empty(TABLES["series"]),
            impedance=Impedance(),
            trust=Trust(),
            materials={"positive": "LFP", "negative": "graphite"},
            zero_current_mA=0.002,
        )
    return "spectra" if result.tables["spectra"].num_rows else "no spectrum"


def main(argv: list[str] | None = None) -> int:
    """Damage spectra, test and fit them, print one line; 1 where any came to another end."""
    count, seed = asked(argv, SPECTRA)
    return counted(survived, count=count, seed=seed, what="spectra")


if __name__ == "__main__":
    sys.exit(main())
