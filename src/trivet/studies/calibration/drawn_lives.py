"""Lives of the study in files, for another rule to judge the very same ones.

`python -m trivet.studies.calibration.drawn_lives FOLDER --replicates N --seed S` writes the lives
of the campaigns from which power is told, one file `PART-PLACE-TURN.npz` a row and ratio. Another
rule reads them and writes its verdicts as `verdict_file` does, for `before_table`.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from trivet.studies.calibration.invented_campaigns import Campaign, Seen, draw_campaign, seen_at
from trivet.studies.calibration.invented_lives import Scenario, draw
from trivet.studies.calibration.parts import PARTS, PLAIN, SEED, Part, Row
from trivet.studies.calibration.rates import RATIOS

Columns = dict[str, np.ndarray]


def write_lives(folder: Path, *, replicates: int, seed: int) -> None:
    """Write the lives from which power is told.

    Parameters
    ----------
    folder : Path
        Where to.
    replicates, seed : int
        As for the study.
    """
    folder.mkdir(parents=True, exist_ok=True)
    _write_part(folder, PLAIN, replicates, seed)
    for part in PARTS:
        _write_part(folder, part, replicates, seed)


def _write_part(folder: Path, part: Part[Row], replicates: int, seed: int) -> None:
    """Write the lives of all rows of a part."""
    number = part.replicates(replicates, len(RATIOS) - 1)
    for place, row in enumerate(part.rows):
        for turn, ratio in enumerate(RATIOS):
            generator = np.random.default_rng(list(part.seed(seed, place, turn)))
            drawn = [_lives(row, ratio, generator) for _ in range(number)]
            path = folder / f"{part.name}-{place}-{turn}.npz"
            np.savez_compressed(path, **_joined(row, drawn))  # type: ignore[arg-type]


def _lives(row: Scenario | Campaign, ratio: float, generator: np.random.Generator) -> list[Columns]:
    """Lives of one campaign at each data cut."""
    if isinstance(row, Campaign):
        truth = draw_campaign(row, ratio=ratio, generator=generator)
        return [_columns(seen_at(truth, cut, checks_h=row.checks_h)) for cut in row.cuts_h]
    lives = draw(row, ratio=ratio, generator=generator)
    count = len(lives.duration)
    batch = np.zeros(count) if lives.batch is None else lives.batch
    nothing = np.zeros(count)
    return [
        {
            "duration": lives.duration,
            "observed": lives.observed,
            "group": lives.group,
            "batch": batch,
            "entry": nothing,
            "lower": lives.duration,
            "upper": np.where(lives.observed == 1, lives.duration, np.inf),
            "stopped": nothing.astype(bool),
        }
    ]


def _columns(seen: Seen) -> Columns:
    """What is known, as another rule may take it; `stopped`: a person stopped it, as logged."""
    return {
        "duration": seen.duration_h,
        "observed": seen.observed,
        "group": seen.group,
        "batch": seen.batch,
        "entry": seen.entry_h,
        "lower": seen.lower_h,
        "upper": np.where(seen.observed == 1, seen.upper_h, np.inf),
        "stopped": seen.logged,
    }


def _joined(row: Scenario | Campaign, drawn: list[list[Columns]]) -> Columns:
    """Lives of all campaigns of a row, one after the other, and how they are compared."""
    flat = [
        columns
        | {
            "campaign": np.full(len(columns["group"]), number),
            "cut": np.full(len(columns["group"]), cut),
        }
        for number, cuts in enumerate(drawn)
        for cut, columns in enumerate(cuts)
    ]
    joined = {name: np.concatenate([columns[name] for columns in flat]) for name in flat[0]}
    if isinstance(row, Campaign):
        how = (row.groups, bool(row.checks_h), row.stratified)
    else:
        how = (len(row.sizes), False, True)
    names = ("groups", "between_checks", "stratified")
    return joined | {name: np.array(value) for name, value in zip(names, how, strict=True)}


def main(argv: Sequence[str] | None = None) -> None:
    """Write the lives.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, help="where to write")
    parser.add_argument("--replicates", type=int, default=40, help="as for the study")
    parser.add_argument("--seed", type=int, default=SEED, help="seed of the draws")
    given = parser.parse_args(argv)
    write_lives(given.folder, replicates=given.replicates, seed=given.seed)


if __name__ == "__main__":
    main()
